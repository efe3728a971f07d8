#include "thing_times.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

constexpr float kThere =
    0.4f;  // share of a thing that a window shows: nearer to it than to nothing
constexpr float kOwnNodes = 0.15f;  // of its strongest node: what lies beyond is its skirt

bool is_isolated(const GlassThing& t) {
  return t.kinds.front().cause != Cause::touch_at_power_up &&
         t.kinds.front().cause != Cause::grounded_film && t.kinds.front().cause != Cause::wet_bezel;
}

/// Part of the smaller box that the other covers.
double overlap(const Box& a, const Box& b) {
  const int rows = std::min(a.row1, b.row1) - std::max(a.row0, b.row0) + 1;
  const int cols = std::min(a.col1, b.col1) - std::max(a.col0, b.col0) + 1;
  if (rows <= 0 || cols <= 0) return 0;
  return static_cast<double>(rows * cols) /
         std::min(a.height() * a.width(), b.height() * b.width());
}

/// The same map, or, of what dries and shrinks, the same place.
bool same_thing(const GlassThing& a, const GlassThing& b) {
  if (is_isolated(a) && is_isolated(b) && overlap(a.shape.box, b.shape.box) > 0.5) return true;
  const double both = static_cast<double>((a.predicted.array() * b.predicted.array()).sum());
  const double scale = std::sqrt(static_cast<double>(a.predicted.squaredNorm()) *
                                 static_cast<double>(b.predicted.squaredNorm()));
  return both > 0.6 * scale;
}

bool times_meet(const GlassThing& a, const GlassThing& b) {
  return a.from <= b.until && b.from <= a.until;
}

}  // namespace

void follow(GlassThing& t, const Reading& reading, const PanelScale& scale, const Bare& bare) {
  const float most = t.predicted.cwiseAbs().maxCoeff();
  double norm = 1e-12;
  std::vector<std::size_t> nodes;
  for (int r = 0; r < reading.shape().rows; ++r)
    for (int c = 0; c < reading.shape().cols; ++c) {
      const std::size_t i = reading.node_at(r, c);
      if (reading.masked(i) || std::abs(t.predicted(r, c)) < kOwnNodes * most) continue;
      nodes.push_back(i);
      norm += std::pow(static_cast<double>(t.predicted(r, c)), 2);
    }
  const int cols = reading.shape().cols;
  const auto drive = static_cast<float>(bare.drive);
  t.course.assign(reading.windows(), 0.f);
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    double along = 0;
    for (const std::size_t i : nodes) {
      const float seen = reading.window(k).mean[i];
      const float d =
          reading.change_sign() *
          (bare.is_level ? bare.level[i] * drive - seen : bare.level[i] - seen / reading.gain(k));
      along +=
          static_cast<double>(d) * scale.ff_per_count *
          static_cast<double>(t.predicted(static_cast<int>(i) / cols, static_cast<int>(i) % cols));
    }
    t.course[k] = static_cast<float>(along / norm);
  }
  const double frames = reading.windows() > 0 ? std::max(1, reading.window(0).frames) : 1;
  t.course_sigma =
      static_cast<double>(reading.noise()) * scale.ff_per_count / std::sqrt(norm * frames);
}

void find_time(GlassThing& t, const GlassState& state, const Reading& reading,
               const Account& account) {
  const auto there = [&](std::size_t k) { return t.course[k] > kThere; };
  const auto in_run = [&](std::size_t k) {
    return run_of(account, reading.window(k).first_us) == state.run;
  };
  t.from = state.from;
  t.until = state.until;
  while (t.from > 0 && in_run(t.from - 1) && there(t.from - 1)) --t.from;
  while (t.until < reading.windows() && in_run(t.until) && there(t.until)) ++t.until;
}

void merge_in(std::vector<GlassThing>& all, std::vector<GlassThing> more) {
  for (GlassThing& t : more) {
    const auto known = std::find_if(all.begin(), all.end(), [&](const GlassThing& o) {
      return same_thing(o, t) && times_meet(o, t);
    });
    if (known == all.end()) {
      all.push_back(std::move(t));
      continue;
    }
    const std::size_t from = std::min(known->from, t.from);
    const std::size_t until = std::max(known->until, t.until);
    if (t.support > known->support) *known = std::move(t);
    known->from = from;
    known->until = until;
  }
}

}  // namespace bareglass::host
