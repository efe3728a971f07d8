#include "glass_causes.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bareglass/words/text.hpp"
#include "evidence_text.hpp"
#include "glass_things.hpp"
#include "moving.hpp"
#include "reconstruct.hpp"

namespace bareglass::host {

namespace {

// A finger that uses the panel does not stay in one place for longer.
constexpr std::uint64_t kHeld_us = 8000000;
constexpr std::uint64_t kAllAlong_us = 2000000;
// Where most glass is bare, what is weak and has less odds than this sends people to clean what is
// clean.
constexpr double kLeastTold = 0.8;
constexpr double kPlain = 25.0;  // natural logarithms: what stands out so is told, whatever it is
// Share of a finger: 0.1 mm of dry tape makes 0.4 % through 1.1 mm of glass, 1 % through 0.7 (field
// solutions of whole-area films), a label of half a millimetre 3.4 %.
constexpr double kBeyondDryTape = 0.04;
// Nothing explains it, so nothing about it is sure.
constexpr double kUnexplained = 0.75;
// Other kinds this probable are named beside the first, until what is named is nearly certain. An
// answer of more than three would say nothing.
constexpr double kWorthNaming = 0.1;
constexpr double kNearlyCertain = 0.95;
constexpr std::size_t kMostNames = 3;

// What is taken away is gone within a window or two; what dries passes through the middle of its
// range for longer.
constexpr std::uint64_t kFading_us = 800000;

/// Whether the thing passes through the middle of its range as it goes.
bool is_fading(const GlassThing& t, const Reading& reading) {
  std::vector<float> there(t.course.begin() + static_cast<std::ptrdiff_t>(t.from),
                           t.course.begin() + static_cast<std::ptrdiff_t>(t.until));
  if (there.size() < 2) return false;
  const float full = quantile(there, 0.9);
  const auto doubt = static_cast<float>(std::max(0.02, 3.0 * t.course_sigma));
  std::uint64_t between_us = 0;
  for (std::size_t k = t.from; k < reading.windows(); ++k) {
    const float share = t.course[k] / full;
    if (share < 0.15f + doubt || share > 0.85f - doubt) continue;
    between_us += reading.window(k).last_us - reading.window(k).first_us;
  }
  return between_us > kFading_us;
}

std::uint64_t lasted_us(const GlassThing& t, const Reading& reading) {
  return reading.window(t.until - 1).last_us - reading.window(t.from).first_us;
}

/// Whether the thing was there in the first window of its run.
bool from_first_window(const GlassThing& t, const Reading& reading, const Account& a) {
  return t.from == 0 || run_of(a, reading.window(t.from - 1).first_us) !=
                            run_of(a, reading.window(t.from).first_us);
}

const Run& run_of(const GlassThing& t, const Reading& reading, const Account& a) {
  return a.runs[run_of(a, reading.window(t.from).first_us)];
}

bool at_start(const GlassThing& t, const Reading& reading, const Account& a) {
  return from_first_window(t, reading, a) &&
         (run_of(t, reading, a).power_up_known || a.kind == DumpKind::from_power_up);
}

bool to_the_end(const GlassThing& t, const Reading& reading) {
  return t.until >= reading.windows();
}

/// Fingers, thumbs, palms that came in use and went again are no cause.
bool is_in_use(const GlassThing& t, const Reading& reading, const Account& a) {
  if (at_start(t, reading, a) || t.is_layer) return false;
  // A dump that begins in the middle: what it begins and ends with may lie there for good.
  if (t.from == 0 && to_the_end(t, reading) && lasted_us(t, reading) > kAllAlong_us) return false;
  // What comes and goes within two seconds of use is of a hand, whatever it looked like.
  if (!to_the_end(t, reading) && lasted_us(t, reading) < kAllAlong_us) return true;
  const double hand = share_of(t, Cause::touch_at_power_up) + share_of(t, Cause::grounded_film);
  if (hand < 0.5) return false;
  const std::uint64_t lasted = lasted_us(t, reading);
  if (share_of(t, Cause::touch_at_power_up) >= share_of(t, Cause::grounded_film))
    return lasted < kHeld_us;
  return lasted < kAllAlong_us;
}

/// What time says: a touch that came later is held, what fades dries.
void tell_by_time(GlassThing& t, const Reading& reading, const Account& a, bool& fades) {
  fades = false;
  if (!at_start(t, reading, a))
    for (KindShare& k : t.kinds)
      if (k.cause == Cause::touch_at_power_up) k.cause = Cause::touch_held;
  const double isolated = share_of(t, Cause::isolated_film) + share_of(t, Cause::isolated_streak) +
                          share_of(t, Cause::drops) + share_of(t, Cause::residue) +
                          share_of(t, Cause::dry_film);
  if (isolated < 0.5) return;
  fades = is_fading(t, reading);
}

void times(CauseFound& c, const GlassThing& t, const Reading& reading, const Account& a) {
  c.first_us = from_first_window(t, reading, a) ? run_of(t, reading, a).first_us
                                                : reading.window(t.from).first_us;
  c.ended = !to_the_end(t, reading);
  c.ended_us = reading.window(t.until - 1).last_us;
}

/// What a scene is worth beyond its own odds: weak things, things in company and blocks of which
/// much is left are told wrongly more often (CALIBRATION.md).
double trust_in(const GlassThing& t) {
  const double weak =
      1.0 / (1.0 + std::exp((std::log(std::max(1.0, t.support)) - std::log(18.0)) / 0.35));
  const double left = std::clamp((t.left - 0.12) / 0.3, 0.0, 1.0);
  const double company =
      t.company > 1 ? std::min(0.3, 0.08 * static_cast<double>(t.company - 1)) : 0.0;
  return (1.0 - 0.3 * weak) * (1.0 - 0.25 * left) * (1.0 - company);
}

void reasons(CauseFound& c, const GlassThing& t, const Account& a, double low, double high) {
  std::vector<std::string>& f = c.speaks_for;
  switch (c.cause) {
    case Cause::touch_at_power_up:
    case Cause::touch_held:
      f.push_back(text::falls_as_touch());
      f.push_back(text::fingertip_sized());
      if (c.ended) f.push_back(text::ended_at_once_as_finger());
      if (!c.ended) c.speaks_against.push_back(text::touch_never_ended());
      break;
    case Cause::grounded_film:
      f.push_back(text::falls_over_more());
      break;
    case Cause::wet_bezel:
      f.push_back(text::band_at_border(c.box, a.settings));
      f.push_back(text::fluid_lowers());
      break;
    case Cause::isolated_streak:
      f.push_back(text::both_signs(low, high));
      f.push_back(text::streak_makes_touches());
      break;
    case Cause::drops:
      f.push_back(text::separate_places(t.parts));
      f.push_back(text::rises_against_touch());
      break;
    case Cause::lone_node:
      f.push_back(text::lone_node());
      c.speaks_against.push_back(text::lone_node_where());
      break;
    case Cause::dry_film:
    case Cause::residue:
      f.push_back(text::no_rim());
      c.speaks_against.push_back(text::dry_or_damp());
      break;
    default:
      f.push_back(text::rises_against_touch());
      if (low > 0.05 * high && low > 0.02) f.push_back(text::has_rim(low));
      if (c.cause == Cause::drying_film)
        f.push_back(text::faded());
      else if (c.ended && c.cause == Cause::isolated_film)
        f.push_back(text::ended_at_once_as_peeled());
      if (high > kBeyondDryTape) f.push_back(text::dry_tape_cannot());
      if (!c.ended) c.speaks_against.push_back(text::stayed_to_the_end());
      break;
  }
  if (t.bare == BareBy::smoothness) c.speaks_against.push_back(text::only_smoothness());
  if (t.either_way) c.speaks_against.push_back(text::put_down_or_lifted());
}

CauseFound cause_of(GlassThing t, const Reading& reading, const Account& a,
                    const PanelScale& scale) {
  CauseFound c;
  bool fades = false;
  tell_by_time(t, reading, a, fades);
  c.cause = t.kinds.front().cause;
  c.confidence = t.kinds.front().share;
  if (fades) c.cause = Cause::drying_film;
  for (std::size_t k = 1; !fades && k < std::min(kMostNames, t.kinds.size()); ++k) {
    if (c.confidence > kNearlyCertain || t.kinds[k].share < kWorthNaming) break;
    c.or_else.push_back(t.kinds[k].cause);
    c.confidence += t.kinds[k].share;
  }
  // A smooth panel is a weaker witness than a reference, and so is a dump that may be read either
  // way.
  c.confidence *= trust_in(t);
  if (t.bare == BareBy::smoothness) c.confidence *= 0.85;
  if (t.either_way) c.confidence *= 0.7;
  if (c.cause == Cause::unknown_object) c.confidence = std::min(c.confidence, kUnexplained);
  const bool thin = c.cause == Cause::dry_film || c.cause == Cause::residue;
  c.headline = thin && c.or_else.empty() ? text::thin_layer_headline() : text::headline_of_all(c);
  c.limit = a.decisive.limit;
  c.has_place = true;
  c.box = t.shape.box;
  const float low = t.predicted.maxCoeff();
  const float high = -t.predicted.minCoeff();
  const double by = low >= high ? static_cast<double>(low) : -static_cast<double>(high);
  c.measured = static_cast<std::int32_t>(std::lround(by / scale.ff_per_count));
  times(c, t, reading, a);
  c.speaks_for.push_back(text::map_shows(c.measured, a.settings, t.bare));
  const double finger = a.settings.finger_counts * scale.ff_per_count;
  reasons(c, t, a, static_cast<double>(low) / finger, static_cast<double>(high) / finger);
  c.speaks_for.push_back(text::area_is(text::size_mm(c.box, a.settings)));
  return c;
}

CauseFound moving(const Account& a) {
  CauseFound c;
  c.cause = Cause::moving_thing;
  c.headline = text::headline(c.cause);
  c.first_us = a.first_us;
  c.limit = a.decisive.limit;
  c.confidence = 0.95;
  c.speaks_for.push_back(text::moved_during_look());
  return c;
}

}  // namespace

GlassCauses glass_causes(const Account& a, const Reading& reading) {
  GlassCauses out;
  if (reading.empty()) return out;
  if (moves_at_power_up(reading, a)) {
    out.told.push_back(moving(a));
    return out;
  }
  const PanelScale scale = panel_scale(reading, a);
  for (const GlassThing& t : glass_things(reading, a)) {
    if (is_in_use(t, reading, a)) continue;
    const double support = t.support;
    CauseFound c = cause_of(t, reading, a, scale);
    const bool faint = support < kPlain && c.confidence < kLeastTold;
    // An outline of what nothing explains is the search's, not the thing's.
    if (!faint && c.cause != Cause::unknown_object) c.reconstruction = reconstruct(t, scale);
    (faint ? out.faint : out.told).push_back(std::move(c));
  }
  return out;
}

}  // namespace bareglass::host
