#include "core_findings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <initializer_list>
#include <map>

#include "bareglass/panel/player.hpp"
#include "bareglass/replay/replay.hpp"
#include "support/record_list.hpp"

namespace bareglass::score {

namespace {

using host::Cause;

/// Causes that show as this kind. An isolated conductor raises where it is compact and shows both
/// signs where it is long, so its kinds overlap; a film that has dried to nothing much is dry.
std::initializer_list<Cause> causes_of(FindingKind kind) {
  static constexpr auto kHeld = {Cause::touch_at_power_up, Cause::touch_held, Cause::moving_thing};
  static constexpr auto kRaised = {Cause::isolated_film, Cause::drying_film,
                                   Cause::drops,         Cause::residue,
                                   Cause::dry_film,      Cause::isolated_streak};
  // Somebody who wipes while the panel looks leaves a wide shallow mean.
  static constexpr auto kLowered = {Cause::grounded_film, Cause::moving_thing};
  static constexpr auto kBand = {Cause::wet_bezel, Cause::grounded_film};
  static constexpr auto kBothSigns = {Cause::isolated_streak, Cause::isolated_film,
                                      Cause::drying_film};
  // Tape lies over half of the damp notes, and a film that has dried is dry.
  static constexpr auto kFaint = {Cause::dry_film, Cause::residue, Cause::drying_film,
                                  Cause::isolated_film};
  static constexpr auto kDrops = {Cause::drops};
  // A look can't know that a line will come back; nor what it is that stops all of it.
  static constexpr auto kOpen = {Cause::open_line, Cause::intermittent_line,
                                 Cause::raised_resistance};
  static constexpr auto kCut = {Cause::crack};
  static constexpr auto kBridged = {Cause::bridged_lines};
  static constexpr auto kWeak = {Cause::raised_resistance, Cause::intermittent_line};
  static constexpr auto kTail = {Cause::worn_tail};
  static constexpr auto kLoose = {Cause::intermittent_line};
  static constexpr auto kNoise = {Cause::interference};
  static constexpr auto kCommon = {Cause::common_mode};
  static constexpr auto kFloating = {Cause::floating_ground};
  static constexpr auto kSag = {Cause::supply_sag};
  static constexpr auto kAny = {
      Cause::touch_at_power_up, Cause::touch_held,    Cause::isolated_film,
      Cause::drying_film,       Cause::grounded_film, Cause::wet_bezel,
      Cause::isolated_streak,   Cause::moving_thing,  Cause::dry_film,
      Cause::residue,           Cause::drops};
  switch (kind) {
    case FindingKind::held_touch:
      return kHeld;
    case FindingKind::raised_plateau:
      return kRaised;
    case FindingKind::lowered_plateau:
      return kLowered;
    case FindingKind::border_band:
      return kBand;
    case FindingKind::two_sign_conductor:
      return kBothSigns;
    case FindingKind::faint_film:
      return kFaint;
    case FindingKind::drops:
      return kDrops;
    case FindingKind::unknown:
      return kAny;
    case FindingKind::open_line:
      return kOpen;
    case FindingKind::cut_line:
      return kCut;
    case FindingKind::bridged_lines:
      return kBridged;
    case FindingKind::raised_resistance:
      return kWeak;
    case FindingKind::tail_group:
      return kTail;
    case FindingKind::intermittent_line:
      return kLoose;
    case FindingKind::interference:
      return kNoise;
    case FindingKind::common_mode:
      return kCommon;
    case FindingKind::weak_coupling:
      return kFloating;
    case FindingKind::supply_sag:
      return kSag;
    default:
      return {};
  }
}

bool lies_at(const Box& box, const Case& c) {
  if (!c.place) return true;
  const double px = c.scenario.panel.columns.pitch_mm;
  const double py = c.scenario.panel.rows.pitch_mm;
  const PlaceMm& p = *c.place;
  return (box.col1 + 2) * px >= p.x_low && (box.col0 - 2) * px <= p.x_high &&
         (box.row1 + 2) * py >= p.y_low && (box.row0 - 2) * py <= p.y_high;
}

bool is_on_lines(const LinePlace& lines, const Case& c) {
  return c.lines && lines.of_rows == c.lines->of_rows && lines.first <= c.lines->last &&
         lines.last >= c.lines->first;
}

/// A fingertip that some event put on the glass was there when the finding was last seen.
bool is_finger_down(const Case& c, std::uint64_t t_us) {
  constexpr double kLook_s = 0.5;
  std::map<std::size_t, double> down;
  const double t = static_cast<double>(t_us) * 1e-6;
  for (const panel::Event& e : c.scenario.events) {
    if (e.thing >= c.scenario.things.size()) continue;
    const panel::ThingSpec& thing = c.scenario.things[e.thing];
    const bool fingertip = !thing.is_film && thing.shape == "disc" && thing.earth_pf >= 50;
    if (!fingertip || e.at_s > t) continue;
    if (e.action == panel::Action::put) down[e.thing] = 1e9;
    if (e.action == panel::Action::lift) down[e.thing] = e.at_s + kLook_s;
  }
  return std::any_of(down.begin(), down.end(), [&](const auto& d) { return d.second >= t; });
}

bool is_right(const Finding& f, const Case& c) {
  if (f.kind == FindingKind::held_touch && is_finger_down(c, f.last_us)) return true;
  const auto causes = causes_of(f.kind);
  const bool holds = std::any_of(c.truths.begin(), c.truths.end(), [&](Cause truth) {
    return std::find(causes.begin(), causes.end(), truth) != causes.end();
  });
  if (!holds) return false;
  if (is_line_kind(f.kind)) return is_on_lines(f.lines, c);
  // Somebody who wipes is wherever the look caught him.
  return !is_surface_kind(f.kind) || c.drawn == Cause::moving_thing || lies_at(f.box, c);
}

constexpr int kSteps[] = {0, 300, 500, 700, 800, 870, 930, 970, 1001};

std::string steps_of(const std::vector<CoreFinding>& all, const std::string& name,
                     FindingKind kind) {
  std::string out;
  for (std::size_t b = 0; b + 1 < std::size(kSteps); ++b) {
    int count = 0;
    int right = 0;
    double told = 0;
    for (const CoreFinding& f : all) {
      if (kind != FindingKind::none && f.finding.kind != kind) continue;
      if (f.finding.confidence < kSteps[b] || f.finding.confidence >= kSteps[b + 1]) continue;
      ++count;
      right += f.right;
      told += f.finding.confidence;
    }
    if (count == 0) continue;
    out += fmt::format("{:<26}{:>4} to {:>4}{:>8}{:>12.0f}{:>10.1f} %\n", name, kSteps[b],
                       std::min(1000, kSteps[b + 1]), count, told / count, 100.0 * right / count);
  }
  return out;
}

}  // namespace

std::vector<CoreFinding> core_findings(const Case& c, std::uint64_t seed) {
  std::vector<host::Record> records;
  panel::play(c.scenario, [&](const host::Record& r) { records.push_back(r); });
  support::RecordListReader reader(std::move(records));
  const host::Account account = host::replay(reader, c.scenario.file, {});
  std::vector<CoreFinding> out;
  for (const host::FindingStory& story : account.findings)
    out.push_back(
        {seed, c.drawn, c.scenario.factory_reference, story.last, is_right(story.last, c)});
  return out;
}

std::string reliability(const std::vector<CoreFinding>& all, bool by_kind) {
  std::string out = fmt::format("{:<26}{:>12}{:>8}{:>12}{:>12}\n", "kind", "told permille", "times",
                                "mean told", "right");
  out += steps_of(all, "all", FindingKind::none);
  if (!by_kind) return out;
  std::map<FindingKind, int> kinds;
  for (const CoreFinding& f : all) ++kinds[f.finding.kind];
  for (const auto& [kind, count] : kinds) out += steps_of(all, name_of(kind), kind);
  return out;
}

double right_share_from(const std::vector<CoreFinding>& all, int least) {
  double told = 0;
  double right = 0;
  for (const CoreFinding& f : all) {
    if (f.finding.confidence < least) continue;
    told += 1;
    right += f.right ? 1 : 0;
  }
  return told > 0 ? right / told : 0;
}

std::string listing(const std::vector<CoreFinding>& all) {
  std::string out;
  for (const CoreFinding& f : all)
    out +=
        fmt::format("{} {} {} {} {} {} {} {} {} {} {} {} {} {}\n", f.seed, host::name_of(f.drawn),
                    static_cast<int>(f.finding.kind), f.finding.confidence, f.finding.measured,
                    f.finding.limit, f.finding.nodes, f.has_reference ? 1 : 0, f.right ? 1 : 0,
                    f.finding.peak, f.finding.box.height(), f.finding.box.width(),
                    f.finding.first_us / 1000, f.finding.last_us / 1000);
  return out;
}

}  // namespace bareglass::score
