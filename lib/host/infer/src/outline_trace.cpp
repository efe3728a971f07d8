#include "outline_trace.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

namespace bareglass::host {

namespace {

constexpr double kTurn = 6.283185307179586;
constexpr int kDiscCorners = 48;
constexpr int kSideParts = 10;        // of a rectangle's side
constexpr double kLeastArea_mm2 = 2;  // smaller parts are grain of the raster

/// Cover at a cell, nothing beyond the raster.
float cell(const infer::CoverMap& cover, int y, int x) {
  return y < 0 || x < 0 || y >= cover.rows() || x >= cover.cols() ? 0.f : cover(y, x);
}

/// Lines of equal cover: marching squares over the middles of the cells (the usual method). Every
/// crossed edge of the grid is left by one segment and reached by one.
class Contours {
 public:
  Contours(const infer::CoverMap& cover, float level, const infer::CellModel& model)
      : cover_(cover), level_(level), model_(model) {
    for (int y = -1; y < cover.rows(); ++y)
      for (int x = -1; x < cover.cols(); ++x) add_square(y, x);
  }

  std::vector<TracedOutline> rings() {
    std::vector<TracedOutline> out;
    while (!next_.empty()) {
      TracedOutline ring;
      for (auto at = next_.begin(); at != next_.end(); at = next_.find(ring_end_)) {
        ring.push_back(place_of(at->first));
        ring_end_ = at->second;
        next_.erase(at);
      }
      out.push_back(std::move(ring));
    }
    return out;
  }

 private:
  struct Edge {
    int y, x;
    bool down;  ///< from (y, x) to (y + 1, x), else to (y, x + 1)
    bool operator<(const Edge& o) const {
      return std::tie(y, x, down) < std::tie(o.y, o.x, o.down);
    }
  };

  bool inside(int y, int x) const { return cell(cover_, y, x) > level_; }

  /// Segments of the square between four cells, each from an edge at which, clockwise, material
  /// ends to one at which it begins.
  void add_square(int y, int x) {
    const std::array<bool, 4> in = {inside(y, x), inside(y, x + 1), inside(y + 1, x + 1),
                                    inside(y + 1, x)};
    const std::array<Edge, 4> edges = {Edge{y, x, false}, Edge{y, x + 1, true},
                                       Edge{y + 1, x, false}, Edge{y, x, true}};
    std::vector<std::size_t> ends;
    std::vector<std::size_t> begins;
    for (std::size_t k = 0; k < 4; ++k) {
      if (in[k] && !in[(k + 1) % 4]) ends.push_back(k);
      if (!in[k] && in[(k + 1) % 4]) begins.push_back(k);
    }
    if (ends.size() == 2) {
      const float middle = (cell(cover_, y, x) + cell(cover_, y, x + 1) +
                            cell(cover_, y + 1, x + 1) + cell(cover_, y + 1, x)) /
                           4;
      // Joined through the middle: each segment goes round a corner that is bare.
      const bool after = (begins[0] == (ends[0] + 1) % 4) == (middle > level_);
      if (!after) std::swap(begins[0], begins[1]);
    }
    for (std::size_t k = 0; k < ends.size(); ++k) next_.emplace(edges[ends[k]], edges[begins[k]]);
  }

  TracedPoint place_of(const Edge& e) const {
    const float here = cell(cover_, e.y, e.x);
    const float there = e.down ? cell(cover_, e.y + 1, e.x) : cell(cover_, e.y, e.x + 1);
    const auto part = static_cast<double>((level_ - here) / (there - here));
    TracedPoint p;
    p.x = (e.x + 0.5 + (e.down ? 0.0 : part) - infer::CellModel::kCells / 2.0) * model_.cell_x_mm();
    p.y = (e.y + 0.5 + (e.down ? part : 0.0) - infer::CellModel::kCells / 2.0) * model_.cell_y_mm();
    return p;
  }

  const infer::CoverMap& cover_;
  float level_;
  const infer::CellModel& model_;
  std::map<Edge, Edge> next_;
  Edge ring_end_{};
};

double area_of_ring(const TracedOutline& ring) {
  double sum = 0;
  for (std::size_t k = 0; k < ring.size(); ++k) {
    const TracedPoint& a = ring[k];
    const TracedPoint& b = ring[(k + 1) % ring.size()];
    sum += a.x * b.y - b.x * a.y;
  }
  return sum / 2;
}

/// Normals from the neighbours `reach` points away.
void find_normals(TracedOutline& ring, std::size_t reach) {
  const std::size_t n = ring.size();
  for (std::size_t k = 0; k < n; ++k) {
    const TracedPoint& a = ring[(k + n - reach % n) % n];
    const TracedPoint& b = ring[(k + reach) % n];
    const double along = std::max(1e-9, std::hypot(b.x - a.x, b.y - a.y));
    ring[k].nx = (b.y - a.y) / along;
    ring[k].ny = (a.x - b.x) / along;
  }
}

bool at_edge(const TracedPoint& p, const GlassArea& g) {
  constexpr double kNear = 1e-6;
  return p.x < g.left + kNear || p.x > g.right - kNear || p.y < g.top + kNear ||
         p.y > g.bottom - kNear;
}

void clamp_to(TracedPoint& p, const GlassArea& g) {
  p.x = std::clamp(p.x, g.left, g.right);
  p.y = std::clamp(p.y, g.top, g.bottom);
}

std::vector<TracedOutline> trace_cover(const infer::CoverMap& cover, const infer::CellModel& model,
                                       const GlassArea& glass) {
  const float level = std::min(0.5f, 0.5f * cover.maxCoeff());
  std::vector<TracedOutline> rings = Contours(cover, level, model).rings();
  // All rings have their material on one side; which one decides the largest.
  double whole = 0;
  for (const TracedOutline& r : rings) whole += area_of_ring(r);
  std::vector<TracedOutline> out;
  for (TracedOutline& ring : rings) {
    if (whole < 0) std::reverse(ring.begin(), ring.end());
    for (TracedPoint& p : ring) clamp_to(p, glass);
    find_normals(ring, 2);
    for (TracedPoint& p : ring) {
      if (at_edge(p, glass)) continue;
      p.x -= model.rim_mm() * p.nx;
      p.y -= model.rim_mm() * p.ny;
    }
    if (std::abs(area_of_ring(ring)) > kLeastArea_mm2) out.push_back(std::move(ring));
  }
  return out;
}

TracedOutline corners_of(const infer::Form& f) {
  TracedOutline out;
  const auto add = [&](double along, double across) {
    TracedPoint p;
    p.x = f.x + along * std::cos(f.angle) - across * std::sin(f.angle);
    p.y = f.y + along * std::sin(f.angle) + across * std::cos(f.angle);
    out.push_back(p);
  };
  if (f.kind == infer::Form::Kind::disc) {
    for (int k = 0; k < kDiscCorners; ++k)
      add(f.width / 2 * std::cos(kTurn * k / kDiscCorners),
          f.width / 2 * std::sin(kTurn * k / kDiscCorners));
    return out;
  }
  const double w = f.width / 2, h = f.height / 2;
  const std::array<std::array<double, 2>, 5> corners = {
      {{-w, -h}, {w, -h}, {w, h}, {-w, h}, {-w, -h}}};
  for (std::size_t side = 0; side < 4; ++side)
    for (int k = 0; k < kSideParts; ++k) {
      const double part = static_cast<double>(k) / kSideParts;
      add(corners[side][0] + part * (corners[side + 1][0] - corners[side][0]),
          corners[side][1] + part * (corners[side + 1][1] - corners[side][1]));
    }
  return out;
}

/// Cuts a polygon off where `beyond` is above zero (Sutherland and Hodgman, Commun. ACM 17:32,
/// 1974).
template <typename Beyond>
TracedOutline cut(const TracedOutline& ring, const Beyond& beyond) {
  TracedOutline out;
  for (std::size_t k = 0; k < ring.size(); ++k) {
    const TracedPoint& a = ring[k];
    const TracedPoint& b = ring[(k + 1) % ring.size()];
    const double da = beyond(a), db = beyond(b);
    if (da <= 0) out.push_back(a);
    if ((da <= 0) == (db <= 0)) continue;
    const double part = da / (da - db);
    TracedPoint p;
    p.x = a.x + part * (b.x - a.x);
    p.y = a.y + part * (b.y - a.y);
    out.push_back(p);
  }
  return out;
}

}  // namespace

std::vector<TracedOutline> trace(const infer::CoverMap& cover, const infer::Form& form,
                                 const infer::CellModel& model, const GlassArea& glass) {
  if (form.kind == infer::Form::Kind::any) return trace_cover(cover, model, glass);
  TracedOutline ring = corners_of(form);
  ring = cut(ring, [&](const TracedPoint& p) { return glass.left - p.x; });
  ring = cut(ring, [&](const TracedPoint& p) { return p.x - glass.right; });
  ring = cut(ring, [&](const TracedPoint& p) { return glass.top - p.y; });
  ring = cut(ring, [&](const TracedPoint& p) { return p.y - glass.bottom; });
  if (ring.size() < 3) return {};
  find_normals(ring, 1);
  return {std::move(ring)};
}

double area_of(const std::vector<TracedOutline>& outlines) {
  double sum = 0;
  for (const TracedOutline& ring : outlines) sum += area_of_ring(ring);
  return sum;
}

}  // namespace bareglass::host
