#include "company_member.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::field {

namespace {

double square(double v) { return v * v; }

std::size_t at(Eigen::Index k) { return static_cast<std::size_t>(k); }

/// Of every live square of `b` within kReach squares of a live one of `a`: that one and the nearest
/// of `a`, as numbers among the live ones.
template <typename Add>
void each_contact(const Member& a, const Member& b, const Add& add) {
  constexpr int kReach = 2;
  const PatchedObject& object = *a.placed.object;
  const SquareGrid& grid = object.grid();
  std::vector<int> number(static_cast<std::size_t>(grid.nx * grid.ny), -1);
  for (std::size_t k = 0; k < a.live.size(); ++k) {
    const PatchedObject::Patch& p = object.patches()[at(a.live[k])];
    number[static_cast<std::size_t>(p.j * grid.nx + p.i)] = static_cast<int>(k);
  }
  const std::vector<Point> places = live_places(b);
  for (std::size_t k = 0; k < places.size(); ++k) {
    const double x = (places[k].x - a.placed.place.x - grid.corner.x) / object.step_mm();
    const double y = (places[k].y - a.placed.place.y - grid.corner.y) / object.step_mm();
    double least = square(kReach + 1.0);
    int nearest = -1;
    const int i_last = std::min(grid.nx - 1, static_cast<int>(std::floor(x)) + kReach);
    const int j_last = std::min(grid.ny - 1, static_cast<int>(std::floor(y)) + kReach);
    for (int j = std::max(0, static_cast<int>(std::ceil(y)) - kReach); j <= j_last; ++j)
      for (int i = std::max(0, static_cast<int>(std::ceil(x)) - kReach); i <= i_last; ++i) {
        const int there = number[static_cast<std::size_t>(j * grid.nx + i)];
        const double away = square(x - i) + square(y - j);
        if (there < 0 || away >= least) continue;
        least = away;
        nearest = there;
      }
    if (nearest >= 0) add(nearest, static_cast<Eigen::Index>(k));
  }
}

}  // namespace

std::vector<Point> live_places(const Member& m) {
  std::vector<Point> out;
  for (const Eigen::Index n : m.live) {
    const Point p = m.placed.object->patches()[at(n)].centre;
    out.push_back({p.x + m.placed.place.x, p.y + m.placed.place.y});
  }
  return out;
}

std::vector<EntryPlace> contacts(const Member& a, const Member& b) {
  std::vector<EntryPlace> out{{0, 0}};
  each_contact(a, b, [&](Eigen::Index of_a, Eigen::Index of_b) { out.push_back({of_a, of_b}); });
  each_contact(b, a, [&](Eigen::Index of_b, Eigen::Index of_a) { out.push_back({of_a, of_b}); });
  return out;
}

}  // namespace bareglass::field
