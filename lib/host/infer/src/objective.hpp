#pragma once
// The cost of a scene as a function of all that a fit moves.

#include <algorithm>
#include <cmath>
#include <vector>

#include "bareglass/infer/scene.hpp"

namespace bareglass::infer {

// Ways to earth that the fit may find, fF: below it is isolated, above it is earthed.
inline constexpr float kLeastWay = 100.f;
inline constexpr float kMostWay = 1e6f;

/// All that the fit moves, and the derivative by it, in one place.
struct Point {
  std::vector<CoverMap> covers;  // of bodies, then of layers
  std::vector<float> ways;       // logarithms of C_b of the bodies that are free
};

/// What one thing adds to a prediction, kept where only another one moves.
struct Piece {
  NodeMap covered;  ///< share of what nodes see of the surface
  NodeMap gain;     ///< charge that comes in over it, fF; empty: earthed, or a layer
};

Piece piece_of(const CellModel& model, const SceneBody& body);
Piece piece_of(const CellModel& model, const Layer& layer);

/// Departure that the scene predicts, from the pieces of its bodies, then of its layers.
NodeMap predict(const CellModel& model, const Scene& scene, const std::vector<Piece>& pieces);

class Objective {
 public:
  Objective(const CellModel& model, const Evidence& evidence, const Prices& prices, Scene& scene)
      : model_(model), evidence_(evidence), prices_(prices), scene_(scene) {
    for (const SceneBody& b : scene.bodies)
      fixed_ += prices.thing + (b.way == WayToEarth::free ? prices.free_way : 0.0);
    fixed_ += prices.thing * static_cast<double>(scene.layers.size());
  }

  void pay_for_grey(bool pay) { grey_ = pay; }

  Point start() const {
    Point p;
    for (const SceneBody& b : scene_.bodies) {
      p.covers.push_back(b.body.cover);
      if (b.way == WayToEarth::free)
        p.ways.push_back(std::log(std::clamp(b.body.to_earth, kLeastWay, kMostWay)));
    }
    for (const Layer& l : scene_.layers) p.covers.push_back(l.cover);
    return p;
  }

  void keep(const Point& p) {
    std::size_t cover = 0;
    std::size_t way = 0;
    for (SceneBody& b : scene_.bodies) {
      b.body.cover = p.covers[cover++];
      if (b.way == WayToEarth::free) b.body.to_earth = std::exp(p.ways[way++]);
    }
    for (Layer& l : scene_.layers) l.cover = p.covers[cover++];
  }

  /// Cost at `p`; the gradient goes to `slope` unless it is null. The amounts of layers are the
  /// best there are for the covers.
  double value(const Point& p, Point* slope);
  double last_misfit() const { return misfit_; }
  double last_penalty() const { return penalty_; }

 private:
  float earth_of(std::size_t body, const Point& p, std::size_t& way) const {
    const SceneBody& b = scene_.bodies[body];
    if (b.way == WayToEarth::free) return std::exp(p.ways[way++]);
    return b.way == WayToEarth::earthed ? kEarthed : 0.f;
  }
  double add_penalty(const CoverMap& m, const Form& form, CoverMap* slope) const;
  void settle_slack(SceneBody& body, const NodeMap& gain, NodeMap& predicted) const;

  const CellModel& model_;
  const Evidence& evidence_;
  const Prices& prices_;
  Scene& scene_;
  double fixed_ = 0.0;
  bool grey_ = false;
  double misfit_ = 0.0, penalty_ = 0.0;
};

}  // namespace bareglass::infer
