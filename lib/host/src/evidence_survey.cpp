// What averaged maps show -> one cause with what speaks for and against it.

#include <algorithm>
#include <cmath>

#include "evidence.hpp"
#include "evidence_text.hpp"
#include "surface_survey.hpp"

namespace bareglass::host {

namespace {

// Dry films on 0.7 mm glass, the most sensitive, raise a node by at most 3.4 % of a finger (label,
// 500 um), tape and paper of 100 um by 1 %; on 1.1 mm glass 1.4 and 0.4 % (field solution).
constexpr double kTapeShare = 0.0045;
constexpr double kMostDryShare = 0.036;
// Above this share it takes a conductor.
constexpr double kMostFilmShare = 0.13;

// Longer than a touch in use that stays in one place.
constexpr std::uint64_t kLasting_us = 1900000;
constexpr std::uint64_t kHeld_us = 8000000;
/// Nodes a fingertip can lower to a third of its peak.
constexpr int kFingerNodes = 9;

bool is_streak(const SurfaceFeatures& f) {
  if (f.raised < 0.2 * f.lowered || f.lowered_nodes < 4) return false;
  const bool along_a_diagonal = f.lowered > 1.05 * f.raised;
  const bool with_a_corner =
      f.lowered_blobs <= 2 && f.raised > 0.3 && f.lowered > 0.07 * f.raised && f.raised_nodes < 40;
  return along_a_diagonal || with_a_corner || f.raised > 0.9;
}

bool is_drops(const SurfaceFeatures& f) {
  return f.blobs >= 3 && f.largest_blob <= 4 && f.raised > 0.012 && f.filled < 0.5;
}

bool is_band(const Box& b, Shape shape) {
  const bool along_row =
      (b.row0 == 0 && b.row1 <= 1) || (b.row1 == shape.rows - 1 && b.row0 >= shape.rows - 2);
  const bool along_column =
      (b.col0 == 0 && b.col1 <= 1) || (b.col1 == shape.cols - 1 && b.col0 >= shape.cols - 2);
  return (along_row && b.width() >= 3) || (along_column && b.height() >= 3);
}

std::optional<Cause> raised_cause(const SurfaceFeatures& f) {
  if (is_streak(f)) return Cause::isolated_streak;
  if (is_drops(f)) return Cause::drops;
  if (f.raised_nodes < 3) return std::nullopt;
  // A conductor lowers its rim a little, a dielectric lowers nothing.
  if (f.lowered_nodes >= 1 || f.raised > kMostFilmShare) return Cause::isolated_film;
  return f.raised_mean < kTapeShare ? Cause::dry_film : Cause::residue;
}

std::optional<Cause> lowered_cause(const SurfaceFeatures& f, Shape shape) {
  if (is_band(f.lowered_box, shape) && f.lowered_nodes >= 3) return Cause::wet_bezel;
  if (f.lowered_nodes > kFingerNodes) return Cause::grounded_film;
  // A finger that uses the panel does not stay in one place for a third of a long dump.
  const bool long_held = f.last_us - f.first_us > kHeld_us && f.lowered > 0.3;
  if (long_held) return Cause::touch_held;
  return std::nullopt;
}

/// Longest time for which `box` keeps half of its greatest lowering; at power-up counts as long: no
/// touch is meant then.
bool lasts(const Reading& reading, const Account& a, const Box& box) {
  std::vector<float> course;
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    const std::vector<float> map =
        reading.has_reference() ? reading.departure(k) : reading.change(0, k);
    float sum = 0.f;
    for (int r = box.row0; r <= box.row1; ++r)
      for (int c = box.col0; c <= box.col1; ++c) sum += map[reading.node_at(r, c)];
    course.push_back(sum);
  }
  const float half = *std::max_element(course.begin(), course.end()) / 2;
  if (a.kind == DumpKind::from_power_up && reading.has_reference() && course[0] > half) return true;
  std::uint64_t since_us = 0;
  for (std::size_t k = 0; k < course.size(); ++k) {
    if (course[k] < half)
      since_us = 0;
    else if (since_us == 0)
      since_us = reading.window(k).first_us;
    if (since_us != 0 && reading.window(k).last_us - since_us > kLasting_us) return true;
  }
  return false;
}

}  // namespace

std::optional<CauseFound> weigh_survey(const Reading& reading, const Account& a) {
  CauseFound c;
  c.has_place = true;
  c.limit = a.decisive.limit;
  const SurfaceFeatures f = survey_surface(reading, a);
  c.box = f.raised_nodes > 0 ? f.box : f.lowered_box;
  c.first_us = f.first_us;
  c.ended = f.last_us + 600000 < a.last_us;
  c.ended_us = f.last_us;
  const double finger = a.settings.finger_counts;
  if (is_moving_at_power_up(reading, a)) {
    c.cause = Cause::moving_thing;
    c.headline = text::headline(c.cause);
    c.has_place = false;
    c.first_us = reading.window(0).first_us;
    c.confidence = 0.9;
    c.speaks_for.push_back(text::moved_during_look());
    return c;
  }
  const bool mostly_raised = f.raised_nodes > 0 && f.raised > 0.12 * f.lowered;
  // Without a reference a touch that ended looks raised against what came after.
  const bool brief = f.last_us - f.first_us < kHeld_us;
  if (!reading.has_reference() && a.touches > 0) return std::nullopt;
  if (!reading.has_reference() && brief && (f.raised > 0.2 || f.lowered > 0.2)) return std::nullopt;
  if (f.raised_nodes + f.lowered_nodes == 0) return std::nullopt;
  const std::optional<Cause> cause =
      mostly_raised ? raised_cause(f) : lowered_cause(f, reading.shape());
  if (!cause) return std::nullopt;
  if (!mostly_raised && !lasts(reading, a, f.lowered_box)) return std::nullopt;
  c.cause = *cause;
  c.measured = static_cast<std::int32_t>(
      std::lround(mostly_raised ? -f.raised * finger : f.lowered * finger));
  if (c.cause == Cause::isolated_film && is_fading(reading, a, c.box)) c.cause = Cause::drying_film;
  if (!mostly_raised) c.box = f.lowered_box;
  c.headline = text::headline(c.cause);
  const double margin = (mostly_raised ? f.raised_mean : f.lowered_mean) / std::max(1e-9, f.noise);
  c.confidence = std::clamp(0.5 + margin / 20.0, 0.5, 0.95);
  c.speaks_for.push_back(
      text::map_shows(c.measured, 100.0 * (mostly_raised ? f.raised : f.lowered)));
  if (c.cause == Cause::drops) c.speaks_for.push_back(text::separate_places(f.blobs));
  if (c.cause == Cause::dry_film || c.cause == Cause::residue) {
    c.speaks_for.push_back(text::no_rim());
    if (f.raised_mean < kMostDryShare) {
      c.speaks_against.push_back(text::dry_or_damp());
      c.confidence = std::min(c.confidence, 0.75);
    }
  }
  if (c.cause == Cause::drying_film) c.speaks_for.push_back(text::faded());
  return c;
}

}  // namespace bareglass::host
