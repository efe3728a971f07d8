#include <algorithm>
#include <cmath>

#include "objective.hpp"

namespace bareglass::infer {

namespace {

// A residual of some standard deviations costs less than its square: single nodes go wrong more
// often than a normal distribution allows.
constexpr float kTail = 4.f;

/// Value and, over `slope`, the derivative of the misfit by each residual.
double misfit(const Evidence& evidence, const NodeMap& predicted, NodeMap* slope) {
  double sum = 0.0;
  if (slope != nullptr) slope->resize(predicted.rows(), predicted.cols());
  for (Eigen::Index k = 0; k < predicted.size(); ++k) {
    const float sigma = evidence.sigma(k);
    const float z = (predicted(k) - evidence.departure(k)) / sigma;
    const float root = std::sqrt(1.f + z * z / (kTail * kTail));
    sum += static_cast<double>(kTail * kTail * (root - 1.f));
    if (slope != nullptr) (*slope)(k) = z / (root * sigma);
  }
  return sum;
}

}  // namespace

double Objective::add_penalty(const CoverMap& m, const Form& form, CoverMap* slope) const {
  if (form.kind != Form::Kind::any) {
    if (slope != nullptr) slope->setZero();
    return form.kind == Form::Kind::disc ? prices_.disc : prices_.rectangle;
  }
  double sum = prices_.outline_per_mm * model_.outline(m, prices_.outline_per_mm, slope);
  if (!grey_) return sum;
  const auto price =
      static_cast<float>(prices_.grey_per_mm2 * model_.cell_x_mm() * model_.cell_y_mm());
  sum += static_cast<double>(price * (m.array() * (1.f - m.array())).sum());
  if (slope != nullptr) slope->array() += price * (1.f - 2.f * m.array());
  return sum;
}

/// The best slack for the covers as they are, under its own price.
void Objective::settle_slack(SceneBody& body, const NodeMap& gain, NodeMap& predicted) const {
  predicted += body.slack * gain;
  const NodeMap weight = evidence_.sigma.array().square().inverse();
  const float along =
      ((predicted - evidence_.departure).array() * gain.array() * weight.array()).sum();
  const float square = (gain.array().square() * weight.array()).sum();
  const auto price = static_cast<float>(1.0 / (prices_.slack * prices_.slack));
  body.slack = along / (square + price);
  predicted -= body.slack * gain;
}

double Objective::value(const Point& p, Point* slope) {
  const std::size_t bodies = scene_.bodies.size();
  NodeMap covered = NodeMap::Zero(model_.rows(), model_.columns());
  for (std::size_t b = 0; b < bodies; ++b) covered += model_.covered(p.covers[b]);
  NodeMap predicted = model_.loss(covered);
  std::vector<BodyCoupling> couplings;
  std::vector<float> earths;
  std::vector<NodeMap> gains(bodies);
  std::size_t way = 0;
  for (std::size_t b = 0; b < bodies; ++b) {
    earths.push_back(earth_of(b, p, way));
    couplings.push_back(std::isinf(earths[b]) ? BodyCoupling{} : model_.couple(p.covers[b]));
    if (std::isinf(earths[b])) continue;
    gains[b] = CellModel::passed_on(couplings[b], earths[b]);
    predicted -= (1.f + scene_.bodies[b].slack) * gains[b];
  }
  for (std::size_t b = 0; b < bodies; ++b)
    if (!std::isinf(earths[b])) settle_slack(scene_.bodies[b], gains[b], predicted);
  for (std::size_t l = 0; l < scene_.layers.size(); ++l) {
    const NodeMap shape = model_.full_loss() * model_.covered(p.covers[bodies + l]);
    const NodeMap weight = evidence_.sigma.array().square().inverse();
    const float along =
        -((evidence_.departure - predicted).array() * shape.array() * weight.array()).sum();
    const float square = (shape.array().square() * weight.array()).sum();
    // The best amount under its own price.
    const auto price =
        static_cast<float>(2.0 * prices_.thick_layer) / (model_.most_layer() * model_.most_layer());
    scene_.layers[l].amount = std::clamp(along / (square + price), 0.f, model_.most_layer());
    predicted -= scene_.layers[l].amount * shape;
  }
  NodeMap by_node;
  misfit_ = misfit(evidence_, predicted, slope != nullptr ? &by_node : nullptr);
  penalty_ = fixed_;
  for (std::size_t b = 0; b < bodies; ++b)
    if (!std::isinf(earths[b]))
      penalty_ += 0.5 * std::pow(static_cast<double>(scene_.bodies[b].slack) / prices_.slack, 2);
  for (const Layer& l : scene_.layers)
    penalty_ +=
        prices_.thick_layer * std::pow(static_cast<double>(l.amount / model_.most_layer()), 2);
  if (slope != nullptr) {
    slope->covers.assign(p.covers.size(), CoverMap());
    slope->ways.assign(p.ways.size(), 0.f);
  }
  CoverMap loss_slope;
  CoverMap layer_slope;
  if (slope != nullptr && bodies > 0)
    loss_slope = model_.covered_back(by_node.cwiseProduct(model_.loss_slope(covered)));
  if (slope != nullptr && p.covers.size() > bodies)
    layer_slope = model_.full_loss() * model_.covered_back(by_node);
  // What is smaller than anything that is found on glass mends the model more often than it lies
  // there.
  for (const CoverMap& m : p.covers) {
    const double area = static_cast<double>(m.sum()) * model_.cell_x_mm() * model_.cell_y_mm();
    const double least = 0.785 * std::pow(prices_.small_mm + 2 * model_.rim_mm(), 2);
    penalty_ += prices_.small * std::max(0.0, 1.0 - area / least);
  }
  way = 0;
  for (std::size_t b = 0; b < p.covers.size(); ++b) {
    CoverMap* s = slope != nullptr ? &slope->covers[b] : nullptr;
    if (s != nullptr) {
      if (b >= bodies) {
        *s = -scene_.layers[b - bodies].amount * layer_slope;
      } else {
        *s = loss_slope;
        if (!std::isinf(earths[b]))
          *s -= (1.f + scene_.bodies[b].slack) *
                model_.passed_back(by_node, p.covers[b], couplings[b], earths[b]);
      }
    }
    if (b < bodies && scene_.bodies[b].way == WayToEarth::free) {
      if (slope != nullptr) {
        const float whole = couplings[b].self + earths[b];
        const float both = couplings[b].to_row.dot(by_node * couplings[b].to_column);
        slope->ways[way] = (1.f + scene_.bodies[b].slack) * both / (whole * whole) * earths[b];
      }
      ++way;
    }
    penalty_ += add_penalty(p.covers[b],
                            b < bodies ? scene_.bodies[b].form : scene_.layers[b - bodies].form, s);
  }
  return misfit_ + penalty_;
}

namespace {

Point moved(const Point& p, const Point& by, float step) {
  Point out = p;
  for (std::size_t k = 0; k < out.covers.size(); ++k)
    out.covers[k] = (p.covers[k] - step * by.covers[k]).cwiseMax(0.f).cwiseMin(1.f);
  // A logarithm moves less than a sum of cells does: its own, shorter, steps.
  for (std::size_t k = 0; k < out.ways.size(); ++k)
    out.ways[k] = std::clamp(p.ways[k] - std::clamp(20.f * step * by.ways[k], -1.f, 1.f),
                             std::log(kLeastWay), std::log(kMostWay));
  return out;
}

/// Step of Barzilai and Borwein (IMA J. Numer. Anal. 8:141, 1988) from two points and gradients.
float next_step(const Point& p, const Point& before, const Point& g, const Point& g_before) {
  double ss = 0.0;
  double sy = 0.0;
  for (std::size_t k = 0; k < p.covers.size(); ++k) {
    const CoverMap s = p.covers[k] - before.covers[k];
    ss += static_cast<double>(s.squaredNorm());
    sy += static_cast<double>((s.array() * (g.covers[k] - g_before.covers[k]).array()).sum());
  }
  if (sy <= 1e-12 || ss <= 0.0) return 0.05f;
  return static_cast<float>(std::clamp(ss / sy, 1e-6, 10.0));
}

// Steps before greyness is paid for: what is decided early is so by the misfit. Of few steps a
// third.
constexpr int kWithoutGrey = 40;
constexpr std::size_t kMemory = 5;  // a step may be worse than the last, not than the last five

}  // namespace

Piece piece_of(const CellModel& model, const SceneBody& b) {
  Piece out;
  out.covered = model.covered(b.body.cover);
  if (!std::isinf(b.body.to_earth))
    out.gain = CellModel::passed_on(model.couple(b.body.cover), b.body.to_earth);
  return out;
}

Piece piece_of(const CellModel& model, const Layer& l) { return {model.covered(l.cover), {}}; }

NodeMap predict(const CellModel& model, const Scene& scene, const std::vector<Piece>& pieces) {
  const std::size_t bodies = scene.bodies.size();
  NodeMap covered = NodeMap::Zero(model.rows(), model.columns());
  for (std::size_t b = 0; b < bodies; ++b) covered += pieces[b].covered;
  NodeMap out = model.loss(covered);
  for (std::size_t b = 0; b < bodies; ++b) {
    if (pieces[b].gain.size() > 0) out -= (1.f + scene.bodies[b].slack) * pieces[b].gain;
    if (scene.bodies[b].beyond.size() > 0) out += scene.bodies[b].beyond;
  }
  for (std::size_t l = 0; l < scene.layers.size(); ++l)
    out -= scene.layers[l].amount * model.full_loss() * pieces[bodies + l].covered;
  return out;
}

NodeMap predict(const CellModel& model, const Scene& scene) {
  std::vector<Piece> pieces;
  for (const SceneBody& b : scene.bodies) pieces.push_back(piece_of(model, b));
  for (const Layer& l : scene.layers) pieces.push_back(piece_of(model, l));
  return predict(model, scene, pieces);
}

double misfit_of(const Evidence& evidence, const NodeMap& predicted) {
  return misfit(evidence, predicted, nullptr);
}

void weigh(const CellModel& model, const Evidence& evidence, const Prices& prices, Scene& scene) {
  Objective objective(model, evidence, prices, scene);
  objective.pay_for_grey(true);
  objective.value(objective.start(), nullptr);
  scene.misfit = objective.last_misfit();
  scene.penalty = objective.last_penalty();
}

void fit(const CellModel& model, const Evidence& evidence, const Prices& prices, Scene& scene,
         int steps) {
  for (SceneBody& b : scene.bodies)
    if (b.way != WayToEarth::free) b.body.to_earth = b.way == WayToEarth::earthed ? kEarthed : 0.f;
  Objective objective(model, evidence, prices, scene);
  Point at = objective.start();
  Point slope;
  double cost = objective.value(at, &slope);
  std::vector<double> last{cost};
  const int without_grey = std::min(kWithoutGrey, steps / 3);
  float step = 0.f;
  for (const CoverMap& g : slope.covers)
    step = std::max(step, g.size() > 0 ? g.cwiseAbs().maxCoeff() : 0.f);
  step = step > 0.f ? 0.2f / step : 0.05f;
  for (int k = 0; k < steps; ++k) {
    if (k == without_grey) {
      objective.pay_for_grey(true);
      cost = objective.value(at, &slope);
      last.assign(1, cost);
    }
    const double allowed = *std::max_element(last.begin(), last.end());
    Point trial;
    Point trial_slope;
    double trial_cost = 0.0;
    bool better = false;
    // With the slope at once: most first tries are kept.
    for (int halving = 0; halving < 12 && !better; ++halving, step *= 0.4f) {
      trial = moved(at, slope, step);
      trial_cost = objective.value(trial, &trial_slope);
      better = trial_cost < allowed;
    }
    if (!better) {
      if (k >= without_grey) break;
      k = without_grey - 1;
      step = 0.01f;
      continue;
    }
    step = next_step(trial, at, trial_slope, slope);
    const bool still = std::abs(cost - trial_cost) < 1e-3;
    at = std::move(trial);
    slope = std::move(trial_slope);
    cost = trial_cost;
    last.push_back(cost);
    if (last.size() > kMemory) last.erase(last.begin());
    if (still && k > without_grey + 5) break;
    if (still && k < without_grey) k = without_grey - 1;
  }
  objective.pay_for_grey(true);
  objective.value(at, nullptr);
  objective.keep(at);
  scene.misfit = objective.last_misfit();
  scene.penalty = objective.last_penalty();
}

}  // namespace bareglass::infer
