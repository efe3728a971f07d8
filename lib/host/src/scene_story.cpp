#include "scene_story.hpp"

#include <algorithm>

namespace bareglass::host {

namespace {

// A finger that uses the panel does not stay in one place for longer.
constexpr std::uint64_t kHeld_us = 8000000;
constexpr int kMostTouches = 4;

void mask_around(std::vector<char>& masked, const Box& box, Shape shape) {
  for (int r = std::max(0, box.row0 - 2); r <= std::min(shape.rows - 1, box.row1 + 2); ++r)
    for (int c = std::max(0, box.col0 - 2); c <= std::min(shape.cols - 1, box.col1 + 2); ++c)
      masked[static_cast<std::size_t>(r * shape.cols + c)] = 1;
}

/// The more likely of the two signs of a change.
void settle_sign(Episode& e, const Reading& reading, double finger) {
  if (!e.either_sign) return;
  const SceneLook as_is = look_at(e, reading, finger);
  // What is too weak for the panel's own spread to show is a thin layer or a patch: it rises.
  if (as_is.raised >= as_is.lowered) return;
  for (float& v : e.map) v = -v;
  for (float& v : e.course) v = 1.f - v;
  const std::size_t n = reading.windows();
  if (e.from == 0) {
    e.from = e.until;
    e.until = n;
  } else {
    e.until = e.from;
    e.from = 0;
  }
}

/// A compact grounded thing: nothing if it is a touch in use.
std::optional<Cause> touch_kind(const Episode& e, const Reading& reading, const Account& account) {
  const bool at_start = e.from == 0 && account.kind == DumpKind::from_power_up;
  if (at_start) return Cause::touch_at_power_up;
  const std::uint64_t lasted = reading.window(e.until - 1).last_us - reading.window(e.from).first_us;
  if (lasted >= kHeld_us) return Cause::touch_held;
  return std::nullopt;
}

}  // namespace

std::vector<SceneFound> find_scene(const Reading& reading, const Account& account) {
  std::vector<SceneFound> found;
  if (reading.windows() < 2) return found;
  const double finger = std::max<int>(16, account.settings.finger_counts);
  std::vector<char> masked(static_cast<std::size_t>(reading.shape().nodes()), 0);
  for (std::size_t i = 0; i < masked.size(); ++i) masked[i] = reading.masked(i);
  for (int touches = 0; touches <= kMostTouches; ++touches) {
    Episode e = find_episode(reading, masked);
    if (e.map.empty()) break;
    settle_sign(e, reading, finger);
    const SceneLook look = look_at(e, reading, finger);
    std::optional<Cause> cause = kind_of(look, reading.shape(), account.settings);
    if (!cause) break;
    if (cause == Cause::touch_at_power_up) {
      cause = touch_kind(e, reading, account);
      if (!cause) {
        mask_around(masked, look.lowered_box, reading.shape());
        continue;
      }
    }
    if (cause == Cause::isolated_film && is_fading(e)) cause = Cause::drying_film;
    found.push_back({*cause, std::move(e), look});
    break;
  }
  if (!found.empty() || reading.has_reference()) return found;
  Episode e = against_smoothness(reading, masked);
  const SceneLook look = look_at(e, reading, finger);
  std::optional<Cause> cause = kind_of(look, reading.shape(), account.settings);
  if (cause == Cause::touch_at_power_up) cause = touch_kind(e, reading, account);
  if (cause) found.push_back({*cause, std::move(e), look});
  return found;
}

}  // namespace bareglass::host
