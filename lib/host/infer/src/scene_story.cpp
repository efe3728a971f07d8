#include "scene_story.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace bareglass::host {

namespace {

// A finger that uses the panel does not stay in one place for longer.
constexpr std::uint64_t kHeld_us = 8000000;
constexpr int kMostTouches = 8;
constexpr double kTrembles = 0.1;  ///< of a finger
constexpr int kLargePanel = 800;   ///< nodes
// The parts of a dump after a thing's end that a touch could fill.
constexpr std::uint64_t kBrief_us = 1900000;
constexpr double kLeastTouch = 0.03;
constexpr std::size_t kFewWindows = 2;  ///< half a second; the first of them may hold both states
constexpr double kTouchArea = 6.5;      ///< nodes: the sum of the largest fingertip over its peak
// A fingertip that passes over a node changes it by a tenth of a finger from frame to frame for a
// while; averaged over the quarter of a second a third of that.
constexpr double kRestless = 0.015;
constexpr int kRestlessNodes = 3;
constexpr double kMoved = 0.06;  ///< of a finger, averaged over a window

void mask_around(std::vector<char>& masked, const Box& box, Shape shape) {
  for (int r = std::max(0, box.row0 - 2); r <= std::min(shape.rows - 1, box.row1 + 2); ++r)
    for (int c = std::max(0, box.col0 - 2); c <= std::min(shape.cols - 1, box.col1 + 2); ++c)
      masked[static_cast<std::size_t>(r * shape.cols + c)] = 1;
}

/// The more likely of the two signs of a change.
void settle_sign(Episode& e, const Reading& reading, const Settings& settings) {
  if (!e.either_sign) return;
  const SceneLook as_is = look_at(e, reading, settings);
  // What goes one way only, further than a patch without ground could rise, is grounded: it falls.
  // What is too weak for the panel's own spread to show is a thin layer or a patch: it rises.
  const double greater = std::max(as_is.raised, as_is.lowered);
  const double lesser = std::min(as_is.raised, as_is.lowered);
  const bool falls =
      greater > 1.4 * as_is.conductor + 0.02 && lesser < 0.06 * greater + as_is.limit;
  if (falls == (as_is.lowered > as_is.raised)) return;
  for (float& v : e.map) v = -v;
  for (float& v : e.course) v = 1.f - v;
  e.presence = e.course;
  const std::size_t n = reading.windows();
  if (e.from == 0) {
    e.from = e.until;
    e.until = n;
  } else {
    e.until = e.from;
    e.from = 0;
  }
}

/// Without a reference, towards the end of a dump: a touch in use looks, held against it, like
/// something that lay there until then. Told by its size and by its restlessness.
bool is_touch_inside_out(const Episode& e, const SceneLook& look, const Reading& reading) {
  if (e.witness != Witness::change || e.from != 0 || e.until >= reading.windows()) return false;
  const std::uint64_t away =
      reading.window(reading.windows() - 1).last_us - reading.window(e.until).first_us;
  // A touch that lasts for a part of the windows is seen diluted, but not to a hundredth.
  const bool small = look.raised_area < kTouchArea && look.raised > kLeastTouch;
  const bool one_sided = look.lowered < 0.08 * look.raised + look.limit;
  // What is small, isolated and really there has a rim.
  if (e.either_sign && one_sided && small) return true;
  // Too weak to tell the tail of a touch from a thing.
  const bool weak = std::max({look.raised, look.lowered, 3 * look.plateau}) < 1.5 * look.limit;
  if (weak && e.either_sign) return true;
  if (away > kBrief_us) return false;
  if (weak) return true;
  // Too short a time without it to see whether that time is steady.
  if (e.either_sign && one_sided && e.until + kFewWindows >= reading.windows()) return true;
  const bool restless = e.away_unsteady > 0.34;
  // Something moved while the thing was gone: touches one after the other make such a map.
  if (e.either_sign && restless) return true;
  return one_sided && (small || restless);
}

/// Falls and rises of one thing lie along its own rows and columns. Without a reference, those that
/// share neither are two things, one in each part of the dump: touches.
bool is_pair_of_touches(const Episode& e, const SceneLook& look) {
  if (e.witness != Witness::change || look.lowered_nodes == 0 || look.raised_nodes == 0)
    return false;
  const Box& a = look.lowered_box;
  const Box& b = look.raised_box;
  const bool share_rows = a.row0 <= b.row1 && b.row0 <= a.row1;
  const bool share_columns = a.col0 <= b.col1 && b.col0 <= a.col1;
  return !share_rows && !share_columns;
}

/// A compact grounded thing: nothing if it is a touch in use, or too weak to be one.
std::optional<Cause> touch_kind(const Episode& e, const SceneLook& look, const Reading& reading,
                                const Account& account) {
  if (look.lowered < kLeastTouch) return std::nullopt;
  const bool at_start = e.from == 0 && account.kind == DumpKind::from_power_up;
  if (at_start) return Cause::touch_at_power_up;
  const std::uint64_t lasted =
      reading.window(e.until - 1).last_us - reading.window(e.from).first_us;
  if (lasted >= kHeld_us) return Cause::touch_held;
  return std::nullopt;
}

/// Against a smooth panel a border line is its own yardstick: what stands out along it, and nowhere
/// else, is a wet part of it or its dry rest.
bool is_part_of_border(const Box& b, Shape shape) {
  const bool in_row = b.height() == 1 && (b.row0 == 0 || b.row0 == shape.rows - 1);
  const bool in_column = b.width() == 1 && (b.col0 == 0 || b.col0 == shape.cols - 1);
  return in_row || in_column;
}

/// Whether every node from (row0, col0) to (row1, col1) is masked; none is outside the panel.
bool all_masked(const std::vector<char>& masked, Shape shape, int row0, int row1, int col0,
                int col1) {
  if (row0 < 0 || col0 < 0 || row1 >= shape.rows || col1 >= shape.cols) return false;
  for (int r = row0; r <= row1; ++r)
    for (int c = col0; c <= col1; ++c)
      if (!masked[static_cast<std::size_t>(r * shape.cols + c)]) return false;
  return true;
}

/// The box with the masked columns and rows that lie between it and a border.
Box reaching_border(Box b, const std::vector<char>& masked, Shape shape) {
  const auto gone = [&](int row0, int row1, int col0, int col1) {
    return all_masked(masked, shape, row0, row1, col0, col1);
  };
  const auto line = [](int n) { return static_cast<std::uint8_t>(n); };
  if (b.col0 > 0 && gone(b.row0, b.row1, 0, b.col0 - 1)) b.col0 = 0;
  if (b.row0 > 0 && gone(0, b.row0 - 1, b.col0, b.col1)) b.row0 = 0;
  if (b.col1 < shape.cols - 1 && gone(b.row0, b.row1, b.col1 + 1, shape.cols - 1))
    b.col1 = line(shape.cols - 1);
  if (b.row1 < shape.rows - 1 && gone(b.row1 + 1, shape.rows - 1, b.col0, b.col1))
    b.row1 = line(shape.rows - 1);
  return b;
}

/// Whether a masked block lies between the box, which is at a border, and the rest of its lines.
bool is_cut_off(const Box& b, const std::vector<char>& masked, Shape shape) {
  const auto gone = [&](int row0, int row1, int col0, int col1) {
    return all_masked(masked, shape, row0, row1, col0, col1);
  };
  // The row or column beside the box is its own skirt.
  return (b.row0 <= 2 && gone(b.row1 + 2, b.row1 + 2, b.col0, b.col1)) ||
         (b.row1 >= shape.rows - 3 && gone(b.row0 - 2, b.row0 - 2, b.col0, b.col1)) ||
         (b.col0 <= 2 && gone(b.row0, b.row1, b.col1 + 2, b.col1 + 2)) ||
         (b.col1 >= shape.cols - 3 && gone(b.row0, b.row1, b.col0 - 2, b.col0 - 2));
}

/// Without a reference: a large panel bends most in its corners, where the losses along both kinds
/// of lines meet, and no smooth panel follows that. What keeps to a corner can't be told from it,
/// nor what a masked touch cuts off from the lines that it would be held against.
/// Nodes of `masked` between it and the border are taken for more of the same.
bool is_bend(Box b, const std::vector<char>& masked, Shape shape) {
  if (shape.nodes() < kLargePanel) return false;
  if (is_cut_off(b, masked, shape)) return true;
  b = reaching_border(b, masked, shape);
  const int high = std::max(10, shape.rows / 4);
  const int wide = std::max(10, shape.cols / 4);
  const bool on_row = b.row0 <= 2 || b.row1 >= shape.rows - 3;
  const bool on_column = b.col0 <= 2 || b.col1 >= shape.cols - 3;
  return on_row && on_column && b.height() <= high && b.width() <= wide;
}

SceneFound found_of(Cause cause, Episode e, const SceneLook& look) {
  SceneFound f;
  f.cause = cause;
  if (cause == Cause::residue) f.or_else = other_layer(f.cause, look);
  f.episode = std::move(e);
  f.look = look;
  return f;
}

/// Goes on with the presence of a thing that was seen until a touch came, to the end of the dump.
/// Under the touch nothing is known: what lay there before still does.
void follow_on(Episode& e, const Reading& reading) {
  double norm = 1e-12;
  for (const float v : e.map) norm += static_cast<double>(v) * static_cast<double>(v);
  float there = 1.f;
  for (std::size_t k = e.presence.size(); k < reading.windows(); ++k) {
    const Map map = reading.departure(k);
    double along = 0;
    for (std::size_t i = 0; i < map.size(); ++i)
      along += static_cast<double>(map[i]) * static_cast<double>(e.map[i]);
    const double share = along / norm;
    if (std::abs(share - 1.0) < 0.4)
      there = 1.f;
    else if (std::abs(share) < 0.3)
      there = 0.f;
    e.presence.push_back(there);
  }
}

/// What a touch came to lie on: seen until then at its own place.
void add_beneath(std::vector<SceneFound>& found, const Reading& reading, const Account& account,
                 const std::vector<char>& broken, std::size_t first_use) {
  if (first_use >= reading.windows() || account.kind != DumpKind::from_power_up) return;
  Episode e = find_episode(reading, broken, first_use);
  if (e.map.empty() || e.from > 0) return;
  const SceneLook look = look_at(e, reading, account.settings);
  const std::optional<Cause> cause = kind_of(look);
  if (!cause || !is_lasting(e, reading)) return;
  follow_on(e, reading);
  found.push_back(found_of(*cause, std::move(e), look));
}

}  // namespace

std::vector<SceneFound> find_scene(const Reading& reading, const Account& account) {
  std::vector<SceneFound> found;
  if (reading.windows() < 2) return found;
  std::vector<char> masked(static_cast<std::size_t>(reading.shape().nodes()), 0);
  for (std::size_t i = 0; i < masked.size(); ++i) masked[i] = reading.masked(i);
  std::vector<char> used = masked;
  const std::vector<char> broken = masked;
  std::size_t first_use = reading.windows();
  for (int touches = 0; touches <= kMostTouches; ++touches) {
    Episode e = find_episode(reading, masked);
    if (e.map.empty()) break;
    settle_sign(e, reading, account.settings);
    const SceneLook look = look_at(e, reading, account.settings);
    std::optional<Cause> cause = kind_of(look);
    if (!cause) break;
    if (!is_lasting(e, reading) || is_touch_inside_out(e, look, reading) ||
        is_pair_of_touches(e, look))
      cause = std::nullopt;
    else if (cause == Cause::touch_at_power_up)
      cause = touch_kind(e, look, reading, account);
    if (!cause) {  // in use; what else is there?
      if (look.lowered_nodes + look.raised_nodes == 0) break;
      // A hand that trembles changes little; it is no touch of its own.
      const bool touched = std::max(look.lowered, look.raised) > kTrembles;
      if (look.lowered_nodes > 0) mask_around(masked, look.lowered_box, reading.shape());
      if (look.raised_nodes > 0) mask_around(masked, look.raised_box, reading.shape());
      if (touched) used = masked;
      if (touched) first_use = std::min(first_use, e.from);
      continue;
    }
    const bool rises = look.raised > 0.2 * look.lowered;
    const bool may_dry = rises && (cause == Cause::isolated_film || cause == Cause::residue ||
                                   cause == Cause::isolated_streak || cause == Cause::drops);
    if (may_dry && going_of(e, cause == Cause::isolated_film) == Going::slowly)
      cause = Cause::drying_film;
    found.push_back(found_of(*cause, std::move(e), look));
    break;
  }
  if (reading.has_reference()) {
    if (found.empty()) add_beneath(found, reading, account, broken, first_use);
    return found;
  }
  Episode e = against_smoothness(reading, used);
  if (e.map.empty()) return found;
  const SceneLook look = look_at(e, reading, account.settings);
  std::optional<Cause> cause = kind_of(look);
  if (cause == Cause::touch_at_power_up) cause = touch_kind(e, look, reading, account);
  if (!cause) return found;
  const bool falls = look.lowered > look.raised;
  // Of noise and spread a single node stands out most; a thing shows in the nodes beside it too.
  if (falls ? look.lowered_nodes < 2 : look.raised_nodes < 3 && look.spots < 2) return found;
  if (is_bend(falls ? look.lowered_box : look.raised_box, used, reading.shape())) return found;
  // A streak lowers what it covers; a rise alone is what a wet border line leaves dry.
  const bool may_be_rest = cause != Cause::isolated_streak || look.lowered < look.limit;
  if (may_be_rest && is_part_of_border(falls ? look.lowered_box : look.raised_box, reading.shape()))
    cause = Cause::wet_bezel;
  // What changed may be no more than a part of what was there all the time: a hand that trembles.
  const auto size = [](const SceneLook& l) { return std::max(l.lowered, l.raised); };
  if (!found.empty() && size(found.front().look) > 0.5 * size(look)) return found;
  found.assign(1, found_of(*cause, std::move(e), look));
  return found;
}

bool moves_at_power_up(const Reading& reading, const Account& account) {
  if (account.kind != DumpKind::from_power_up || reading.windows() < 2) return false;
  const double finger = std::max<int>(16, account.settings.finger_counts);
  const SurveyWindow& first = reading.window(0);
  // The noise of n frames has a relative standard deviation of 1 / sqrt(2 n).
  const double nodes = reading.shape().nodes();
  const double noise = static_cast<double>(reading.noise());
  const double restless =
      noise * (1.0 + noise_limit(nodes) / std::sqrt(2.0 * std::max(1, first.frames))) +
      kRestless * finger;
  int restless_nodes = 0;
  for (std::size_t i = 0; i < first.noise.size(); ++i)
    restless_nodes += !reading.masked(i) && static_cast<double>(first.noise[i]) > restless;
  if (restless_nodes < kRestlessNodes) return false;
  const Map map = reading.change(0, 1);
  const double limit = std::max(
      kMoved * finger, noise_limit(nodes) * noise * std::sqrt(2.0 / std::max(1, first.frames)));
  const auto [away, come] = std::minmax_element(map.begin(), map.end());
  if (static_cast<double>(*come) < limit || static_cast<double>(-*away) < limit) return false;
  const int cols = reading.shape().cols;
  const auto from = static_cast<int>(away - map.begin());
  const auto to = static_cast<int>(come - map.begin());
  return std::max(std::abs(from / cols - to / cols), std::abs(from % cols - to % cols)) >= 2;
}

}  // namespace bareglass::host
