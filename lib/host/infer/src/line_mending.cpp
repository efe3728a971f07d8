#include "line_mending.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace bareglass::host {

namespace {

// A line that reads less sees too little to be mended.
constexpr float kLeastMended = 0.35f;
// What a parabola misses of a fault's own course along the line: of what is lost, and of the
// reading. A departure within it is nothing.
constexpr float kMissedOfLoss = 0.02f;
constexpr float kMissed = 0.002f;

/// Crossings from..to - 1 of a line.
struct Stretch {
  int line = 0;
  int from = 0, to = 0;
};

/// A parabola through the shares that the nodes of a stretch read, at 0..1 along it; what departs
/// from it, a thing on the line, has no say.
class Course {
 public:
  bool fit(const std::vector<float>& at, const std::vector<float>& share) {
    const std::size_t n = at.size();
    if (n < 6) return false;
    std::vector<float> near(share.begin(), share.begin() + static_cast<std::ptrdiff_t>(n / 2));
    std::vector<float> far(share.begin() + static_cast<std::ptrdiff_t>(n / 2), share.end());
    const double first = static_cast<double>(quantile(std::move(near), 0.5));
    const double slope = 2 * (static_cast<double>(quantile(std::move(far), 0.5)) - first);
    c_[0] = first - 0.25 * slope;
    c_[1] = slope;
    for (int round = 0; round < 3; ++round)
      if (!refit(at, share)) return false;
    return true;
  }
  double at(double x) const { return c_[0] + x * (c_[1] + x * c_[2]); }

 private:
  bool refit(const std::vector<float>& at, const std::vector<float>& share) {
    std::vector<float> left;
    for (std::size_t i = 0; i < at.size(); ++i)
      left.push_back(std::abs(share[i] - static_cast<float>(this->at(at[i]))));
    const float limit = std::max(kMissed, 4.f * quantile(left, 0.5));
    double m[3][4] = {};
    for (std::size_t i = 0; i < at.size(); ++i) {
      if (left[i] > limit) continue;
      const double x = at[i];
      const double powers[3] = {1, x, x * x};
      for (int r = 0; r < 3; ++r) {
        for (int c = 0; c < 3; ++c) m[r][c] += powers[r] * powers[c];
        m[r][3] += powers[r] * static_cast<double>(share[i]);
      }
    }
    for (int p = 0; p < 3; ++p) {
      if (std::abs(m[p][p]) < 1e-9) return false;
      for (int r = 0; r < 3; ++r) {
        if (r == p) continue;
        const double factor = m[r][p] / m[p][p];
        for (int c = p; c < 4; ++c) m[r][c] -= factor * m[p][c];
      }
    }
    for (int r = 0; r < 3; ++r) c_[r] = m[r][3] / m[r][r];
    return true;
  }

  double c_[3] = {};
};

void mend_stretch(Reading& reading, const LineAxis& axis, std::size_t k, const Stretch& s) {
  std::vector<float> at;
  std::vector<float> share;
  const auto place = [&](int i) {
    return (static_cast<float>(i - s.from) + 0.5f) / static_cast<float>(s.to - s.from);
  };
  for (int i = s.from; i < s.to; ++i) {
    const std::size_t node = axis.node(s.line, i);
    if (reading.masked(node)) continue;
    at.push_back(place(i));
    share.push_back(reading.ratio(k, node));
  }
  Course course;
  const bool known = course.fit(at, share);
  for (int i = s.from; i < s.to; ++i) {
    const std::size_t node = axis.node(s.line, i);
    if (reading.masked(node)) continue;
    float left = static_cast<float>(course.at(place(i)));
    if (!known || left < kLeastMended) {
      reading.mask(node);
      continue;
    }
    const float seen = reading.ratio(k, node);
    if (std::abs(seen - left) < kMissed + kMissedOfLoss * std::abs(1.f - left)) left = seen;
    reading.mend(k, node, left);
  }
}

void mend_line(Reading& reading, const LineAxis& axis, std::size_t k, int line) {
  mend_stretch(reading, axis, k, {line, 0, axis.crossings()});
}

void mask_line(Reading& reading, const LineAxis& axis, int line) {
  for (int i = 0; i < axis.crossings(); ++i) reading.mask(axis.node(line, i));
}

/// Masks the dead stretch of a cut line and what it lifts beside it. Returns the stretch that
/// lives: it is shorter than the line was, settles faster and reads more.
Stretch mask_cut(Reading& reading, const LineAxis& axis, std::size_t k, int line, int at) {
  const int n = axis.crossings();
  const bool tail = at < n && axis.reading.ratio(k, axis.node(line, at)) < 0.5f;
  const int beside = axis.of_rows ? 2 : 1;
  for (int l = std::max(0, line - beside); l <= std::min(axis.count() - 1, line + beside); ++l)
    for (int i = tail ? std::max(0, at - 1) : 0; i < (tail ? n : std::min(n, at + 1)); ++i)
      reading.mask(axis.node(l, i));
  return tail ? Stretch{line, 0, at} : Stretch{line, at, n};
}

void mend_group(Reading& reading, const LineGroup& g, const std::vector<Looks>& film) {
  const LineAxis axis{reading, g.lines.of_rows};
  const auto look = [&](std::size_t k, int l) { return film[k][static_cast<std::size_t>(l)]; };
  const auto lasting = [&](int l, LineState state) {
    std::size_t windows = 0;
    for (std::size_t k = 0; k < film.size(); ++k) windows += look(k, l).state == state;
    return windows >= std::min<std::size_t>(2, film.size());
  };
  const int first = g.lines.first;
  const int last = g.lines.last;
  std::vector<std::pair<std::size_t, Stretch>> living;
  // Masks first: what is dead has no say in the level of the others.
  for (int l = first; l <= last; ++l) {
    if (lasting(l, LineState::open) || lasting(l, LineState::doubled)) mask_line(reading, axis, l);
    if (!lasting(l, LineState::cut)) continue;
    for (std::size_t k = 0; k < film.size(); ++k)
      if (look(k, l).state == LineState::cut)
        living.emplace_back(k, mask_cut(reading, axis, k, l, look(k, l).at));
  }
  for (const auto& [k, stretch] : living) mend_stretch(reading, axis, k, stretch);
  const bool opens = lasting(first, LineState::open) || lasting(last, LineState::open);
  const int beside = !opens ? 0 : g.lines.of_rows ? 2 : 1;
  for (std::size_t k = 0; k < film.size(); ++k)
    for (int l = std::max(0, first - beside); l <= std::min(axis.count() - 1, last + beside); ++l) {
      const bool within = l >= first && l <= last;
      const LineState state = look(k, l).state;
      // The fault may begin or end within a window that still counts as sound.
      const bool low = state == LineState::low ||
                       (state == LineState::sound &&
                        ((k > 0 && look(k - 1, l).state == LineState::low) ||
                         (k + 1 < film.size() && look(k + 1, l).state == LineState::low)));
      if (within ? low : state == LineState::sound) mend_line(reading, axis, k, l);
    }
}

}  // namespace

void mend_lines(Reading& reading, const LineFilm& film, const std::vector<LineGroup>& groups) {
  for (const LineGroup& g : groups) {
    if (g.cause == Cause::intermittent_line)
      for (int l = g.lines.first; l <= g.lines.last; ++l)
        mask_line(reading, {reading, g.lines.of_rows}, l);
    else
      mend_group(reading, g, g.lines.of_rows ? film.rows : film.columns);
  }
}

void mend_rows(Reading& reading) {
  const LineAxis rows{reading, true};
  const LineYardstick yardstick = LineYardstick::bare(reading);
  const auto level = std::max(1.f, quantile(reading.base(), 0.5));
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    const float swing =
        std::max(static_cast<float>(standing_swing(line_levels(rows, yardstick, k, {}))),
                 reading.window(k).row_swing / level);
    for (int r = 0; r < rows.count(); ++r) {
      std::vector<float> ratios;
      for (int c = 0; c < rows.crossings(); ++c)
        if (!reading.masked(rows.node(r, c))) ratios.push_back(reading.ratio(k, rows.node(r, c)));
      if (ratios.size() < 4) continue;
      // A film over most of a row hides its level; then what is not covered tells it.
      for (const double share : {0.5, 0.85, 0.15}) {
        const float seen = quantile(ratios, share);
        if (std::abs(seen - 1.f) > 3.f * swing + kMissed) continue;
        for (int c = 0; c < rows.crossings(); ++c) reading.mend(k, rows.node(r, c), seen);
        break;
      }
    }
  }
}

}  // namespace bareglass::host
