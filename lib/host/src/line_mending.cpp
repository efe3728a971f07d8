#include "line_mending.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

// A line that reads less sees too little to be mended.
constexpr float kLeastMended = 0.25f;

/// Share of its reading along a line: straight through the medians of its halves, which a thing on
/// less than half of either does not move.
struct Slope {
  float near = 1.f, far = 1.f;  ///< at a quarter and at three quarters of the line
  float at(float part) const { return near + (far - near) * (part - 0.25f) / 0.5f; }
};

bool slope_of(Slope& out, const LineAxis& axis, std::size_t k, int line) {
  std::vector<float> half[2];
  const int n = axis.crossings();
  for (int i = 0; i < n; ++i) {
    const std::size_t node = axis.node(line, i);
    if (!axis.reading.masked(node)) half[2 * i < n ? 0 : 1].push_back(axis.reading.ratio(k, node));
  }
  if (half[0].size() < 2 || half[1].size() < 2) return false;
  out.near = quantile(std::move(half[0]), 0.5);
  out.far = quantile(std::move(half[1]), 0.5);
  return std::min(out.near, out.far) > kLeastMended;
}

void mend_line(Reading& reading, const LineAxis& axis, std::size_t k, int line) {
  Slope slope;
  const int n = axis.crossings();
  if (!slope_of(slope, axis, k, line)) {
    for (int i = 0; i < n; ++i) reading.mask(axis.node(line, i));
    return;
  }
  for (int i = 0; i < n; ++i) {
    const float share = slope.at((static_cast<float>(i) + 0.5f) / static_cast<float>(n));
    if (share > kLeastMended) reading.mend(k, axis.node(line, i), share);
  }
}

void mask_line(Reading& reading, const LineAxis& axis, int line) {
  for (int i = 0; i < axis.crossings(); ++i) reading.mask(axis.node(line, i));
}

/// The dead stretch of a cut line and, of rows, what it lifts beside it.
void mask_stretch(Reading& reading, const LineAxis& axis, std::size_t k, int line, int at) {
  const int n = axis.crossings();
  const bool tail = at < n && axis.reading.ratio(k, axis.node(line, at)) < 0.5f;
  const int beside = axis.of_rows ? 2 : 1;
  for (int l = std::max(0, line - beside); l <= std::min(axis.count() - 1, line + beside); ++l)
    for (int i = tail ? std::max(0, at - 1) : 0; i < (tail ? n : std::min(n, at + 1)); ++i)
      reading.mask(axis.node(l, i));
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
  // Masks first: what is dead has no say in the level of the others.
  for (int l = first; l <= last; ++l) {
    if (lasting(l, LineState::open) || lasting(l, LineState::doubled)) mask_line(reading, axis, l);
    if (!lasting(l, LineState::cut)) continue;
    for (std::size_t k = 0; k < film.size(); ++k)
      if (look(k, l).state == LineState::cut) mask_stretch(reading, axis, k, l, look(k, l).at);
  }
  const bool opens = lasting(first, LineState::open) || lasting(last, LineState::open);
  const int beside = !opens ? 0 : g.lines.of_rows ? 2 : 1;
  for (std::size_t k = 0; k < film.size(); ++k)
    for (int l = std::max(0, first - beside); l <= std::min(axis.count() - 1, last + beside); ++l) {
      const bool within = l >= first && l <= last;
      const LineState state = look(k, l).state;
      if (within ? state == LineState::low : state == LineState::sound)
        mend_line(reading, axis, k, l);
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
  for (std::size_t k = 0; k < reading.windows(); ++k)
    for (int r = 0; r < rows.count(); ++r) {
      std::vector<float> ratios;
      for (int c = 0; c < rows.crossings(); ++c)
        if (!reading.masked(rows.node(r, c))) ratios.push_back(reading.ratio(k, rows.node(r, c)));
      if (ratios.size() < 4) continue;
      const float level = quantile(std::move(ratios), 0.5);
      if (level < 0.5f) continue;
      for (int c = 0; c < rows.crossings(); ++c) reading.mend(k, rows.node(r, c), level);
    }
}

}  // namespace bareglass::host
