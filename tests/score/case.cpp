#include "case.hpp"

#include <algorithm>
#include <stdexcept>

#include "draw.hpp"
#include "visibility.hpp"

namespace bareglass::score {

namespace {

using host::Cause;

bool is_surface(Cause cause) {
  const auto n = static_cast<int>(cause);
  return (n >= static_cast<int>(Cause::touch_at_power_up) &&
          n <= static_cast<int>(Cause::moving_thing)) ||
         (n >= static_cast<int>(Cause::dry_film) && n <= static_cast<int>(Cause::residue));
}

bool is_line(Cause cause) { return cause >= Cause::open_line && cause <= Cause::intermittent_line; }

/// The same panel, the same touches, without what is wrong.
panel::Scenario twin_of(const Case& c, const panel::Scenario& before) {
  if (is_surface(c.drawn)) return before;
  panel::Scenario twin = c.scenario;
  twin.device = before.device;
  twin.device.earth_pf = panel::kConnected;
  twin.device.supply_mv = std::max(twin.device.supply_mv, 3300.0);
  twin.events.erase(
      std::remove_if(twin.events.begin(), twin.events.end(),
                     [](const panel::Event& e) { return e.action > panel::Action::ground; }),
      twin.events.end());
  return twin;
}

void finish(Case& c, const panel::Scenario& before) {
  if (c.drawn == Cause::bare_glass || c.drawn == Cause::not_enough) return;
  const panel::Scenario twin = twin_of(c, before);
  c.visible = is_visible(c.scenario, twin);
  if (!c.visible) {
    c.right.push_back(Cause::bare_glass);
    c.right.push_back(Cause::not_enough);
  }
}

// The panel as it is before the cause: drawn again with the same seed.
panel::Scenario before_the_cause(const Case& c) {
  panel::Scenario s = c.scenario;
  s.things.clear();
  s.events.clear();
  return s;
}

}  // namespace

const std::vector<Cause>& generated_causes() {
  static const std::vector<Cause> kAll = [] {
    std::vector<Cause> all;
    for (int n = 0; n < host::kCauseCount; ++n) {
      const auto cause = static_cast<Cause>(n);
      const bool is_made = cause != Cause::unknown_object && cause != Cause::lone_node &&
                           cause != Cause::temperature && cause != Cause::aged_reference;
      if (is_made) all.push_back(cause);
    }
    return all;
  }();
  return kAll;
}

Cause generated_cause(const std::string& name, const std::string& place) {
  for (const Cause cause : generated_causes())
    if (name == host::name_of(cause)) return cause;
  throw std::runtime_error(place + ": \"" + name +
                           "\": expected the name of a cause that is generated");
}

Case make_case(Cause cause, std::uint64_t seed, const std::string& panel_folder) {
  const std::vector<Cause>& known = generated_causes();
  if (std::find(known.begin(), known.end(), cause) == known.end())
    throw std::invalid_argument(std::string("no generator makes ") + host::name_of(cause));
  Draw draw(seed * 64 + static_cast<std::uint64_t>(cause));
  Case c;
  c.drawn = cause;
  c.right = {cause};
  if (cause != Cause::bare_glass && cause != Cause::not_enough) c.truths = {cause};
  if (cause == Cause::bare_glass)
    make_healthy(c, draw, panel_folder);
  else if (cause == Cause::not_enough)
    make_not_enough(c, draw, panel_folder);
  else if (is_line(cause))
    make_line(c, draw, panel_folder);
  else if (is_surface(cause))
    make_surface(c, draw, panel_folder);
  else
    make_electrical(c, draw, panel_folder);
  finish(c, before_the_cause(c));
  return c;
}

Case make_double_case(std::uint64_t seed, const std::string& panel_folder) {
  static constexpr Cause kBroken[] = {Cause::open_line,  Cause::crack,
                                      Cause::worn_tail,  Cause::raised_resistance,
                                      Cause::supply_sag, Cause::common_mode};
  static constexpr Cause kOnGlass[] = {Cause::touch_at_power_up, Cause::isolated_film,
                                       Cause::wet_bezel, Cause::isolated_streak, Cause::residue};
  for (std::uint64_t attempt = 0;; ++attempt) {
    Draw draw((seed * 64 + 63) + attempt * 0x100000000ull);
    Case c;
    draw_panel(c, draw, panel_folder, draw.between(4.5, 6));
    const Cause broken = kBroken[draw.whole(0, 5)];
    const Cause on_glass = kOnGlass[draw.whole(0, 4)];
    c.scenario.factory_reference = true;
    panel::Scenario before = c.scenario;
    c.drawn = on_glass;
    put_surface(c, draw, on_glass);
    const bool film_seen = is_visible(c.scenario, before);
    const std::optional<PlaceMm> place = c.place;
    before = c.scenario;
    if (is_line(broken))
      put_line(c, draw, broken);
    else
      put_electrical(c, draw, broken);
    if (!film_seen || !is_visible(c.scenario, before)) continue;
    c.drawn = broken;
    c.truths = {broken, on_glass};
    c.right = {broken, on_glass};
    c.place = place;
    return c;
  }
}

}  // namespace bareglass::score
