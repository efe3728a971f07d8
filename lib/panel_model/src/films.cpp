#include "films.hpp"

#include <algorithm>
#include <cmath>

#include "bareglass/field/electrode_window.hpp"

namespace bareglass::panel {

namespace {

/// A film is felt by nodes up to two pitches away at most.
constexpr double kReach = 2.5;  // pitches

double node_under(const field::PanelSpec& spec, double thickness_mm, double permittivity) {
  field::Scene scene;
  scene.films = {{"film", thickness_mm, permittivity}};
  return field::solve_node(spec, field::Mesh{}, scene);
}

// The part of a node's loss kernel that a film covers; the node is at (x, y) in the film's own
// coordinates.
double covered_part(const field::Footprint& outline, field::Point node,
                    const field::SurfaceKernels& k) {
  constexpr double kStep = 0.5;  // mm
  const double x_reach = kReach * k.column_pitch_mm;
  const double y_reach = kReach * k.row_pitch_mm;
  double covered = 0.0;
  double all = 0.0;
  for (double y = 0.5 * kStep - y_reach; y < y_reach; y += kStep) {
    for (double x = 0.5 * kStep - x_reach; x < x_reach; x += kStep) {
      double w = 0.0;
      for (const field::Separable& s : k.loss.terms) w += s.x.local(x) * s.y.local(y);
      const double d = outline.distance({node.x + x, node.y + y});
      all += w;
      covered += w * std::clamp(0.5 - d / kStep, 0.0, 1.0);
    }
  }
  return covered / all;
}

// How much of the whole-area change each node gets of a film. Checked against strips solved in
// full, see lib/panel_model/DESIGN.md.
NodeMatrix shares(const Film& film, const field::SurfaceKernels& k, Eigen::Index rows,
                  Eigen::Index columns) {
  const field::Footprint& outline = film.outline->footprint();
  const field::Box box = outline.bounds();
  const double x_reach = kReach * k.column_pitch_mm;
  const double y_reach = kReach * k.row_pitch_mm;
  NodeMatrix out = NodeMatrix::Zero(rows, columns);
  for (Eigen::Index r = 0; r < rows; ++r) {
    for (Eigen::Index c = 0; c < columns; ++c) {
      const field::Point node{static_cast<double>(c) * k.column_pitch_mm - film.place.x,
                              static_cast<double>(r) * k.row_pitch_mm - film.place.y};
      if (node.x > box.x_low - x_reach && node.x < box.x_high + x_reach &&
          node.y > box.y_low - y_reach && node.y < box.y_high + y_reach)
        out(r, c) = covered_part(outline, node, k);
    }
  }
  return out;
}

}  // namespace

double Films::solved(int octave, double permittivity) {
  const auto key = std::make_pair(octave, permittivity);
  const auto found = known_.find(key);
  if (found != known_.end()) return found->second;
  const double thickness_mm = std::ldexp(1e-3, octave);
  // Both on the same mesh, so that the small difference is free of meshing noise.
  const double change =
      node_under(spec_, thickness_mm, permittivity) - node_under(spec_, thickness_mm, 1.0);
  known_.emplace(key, change);
  return change;
}

double Films::change(double thickness_um, double permittivity) {
  if (thickness_um <= 0.0 || permittivity <= 1.0) return 0.0;
  // Below the thinnest film that is meshed the change is in proportion to the thickness.
  constexpr int kThinnest = 4;  // 16 um
  int octave = 0;
  std::frexp(thickness_um, &octave);
  --octave;
  if (octave < kThinnest)
    return solved(kThinnest, permittivity) * thickness_um / std::ldexp(1.0, kThinnest);
  const double low = std::ldexp(1.0, octave);
  const double at = thickness_um / low - 1.0;
  if (at == 0.0) return solved(octave, permittivity);
  return (1.0 - at) * solved(octave, permittivity) + at * solved(octave + 1, permittivity);
}

void Films::add(NodeMatrix& change, const Film& film, const field::SurfaceKernels& kernels) {
  constexpr std::size_t kMostShares = 32;
  const auto found = std::find_if(shares_.begin(), shares_.end(), [&](const Shares& s) {
    return s.outline == film.outline && s.place.x == film.place.x && s.place.y == film.place.y;
  });
  const double size = this->change(film.thickness_um, film.permittivity);
  if (found != shares_.end()) {
    change += size * found->share;
    return;
  }
  if (shares_.size() >= kMostShares) shares_.erase(shares_.begin());
  shares_.push_back(
      {film.outline, film.place, shares(film, kernels, change.rows(), change.cols())});
  change += size * shares_.back().share;
}

}  // namespace bareglass::panel
