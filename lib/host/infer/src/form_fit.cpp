// Outlines of few parameters, fitted by damped least squares.

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "objective.hpp"

namespace bareglass::infer {

namespace {

/// A form with its turn worked out once: it is asked some thousand times for each drawing.
class Outline {
 public:
  explicit Outline(const Form& f)
      : form_(f), cosine_(std::cos(f.angle)), sine_(std::sin(f.angle)) {}

  /// mm, negative inside. (std::sqrt, since no length here comes near what overflows a square.)
  double distance_from(double x, double y) const {
    const double dx = x - form_.x;
    const double dy = y - form_.y;
    if (form_.kind == Form::Kind::disc) return std::sqrt(dx * dx + dy * dy) - form_.width / 2;
    const double along = std::abs(dx * cosine_ + dy * sine_) - form_.width / 2;
    const double across = std::abs(-dx * sine_ + dy * cosine_) - form_.height / 2;
    if (along <= 0.0 || across <= 0.0) return std::max(along, across);
    return std::sqrt(along * along + across * across);
  }

 private:
  Form form_;
  double cosine_;
  double sine_;
};

/// Form parameters as a vector and back; how many there are.
int count_of(const Form& f) {
  return f.kind == Form::Kind::any ? 0 : f.kind == Form::Kind::disc ? 3 : 5;
}

double& parameter(Form& f, int k) {
  switch (k) {
    case 0:
      return f.x;
    case 1:
      return f.y;
    case 2:
      return f.width;
    case 3:
      return f.height;
    default:
      return f.angle;
  }
}

constexpr double kLeastSide_mm = 2.0;
constexpr double kMostSide_mm = 600.0;

void keep_in_range(Form& f, const CellModel& model) {
  const double right = model.columns() * CellModel::kCells * model.cell_x_mm();
  const double bottom = model.rows() * CellModel::kCells * model.cell_y_mm();
  f.x = std::clamp(f.x, -right, 2 * right);
  f.y = std::clamp(f.y, -bottom, 2 * bottom);
  f.width = std::clamp(f.width, kLeastSide_mm, kMostSide_mm);
  if (f.kind == Form::Kind::rectangle) f.height = std::clamp(f.height, kLeastSide_mm, kMostSide_mm);
}

/// Everything in a scene that moves here: forms, then the ways that are free.
struct Handle {
  Scene& scene;
  const CellModel& model;

  int forms(bool of_layers) const {
    int n = 0;
    if (of_layers)
      for (const Layer& l : scene.layers) n += count_of(l.form);
    else
      for (const SceneBody& b : scene.bodies) n += count_of(b.form);
    return n;
  }
  int count() const {
    int n = forms(false) + forms(true);
    for (const SceneBody& b : scene.bodies) n += b.way == WayToEarth::free;
    return n;
  }
  /// Moves parameter `at` by `step` in its own unit: mm, radians, or a logarithm of C_b.
  void move(int at, double step) {
    for (SceneBody& b : scene.bodies) {
      const int n = count_of(b.form);
      if (at < n) return move_form(b.form, b.body.cover, at, step);
      at -= n;
    }
    for (Layer& l : scene.layers) {
      const int n = count_of(l.form);
      if (at < n) return move_form(l.form, l.cover, at, step);
      at -= n;
    }
    for (SceneBody& b : scene.bodies) {
      if (b.way != WayToEarth::free) continue;
      if (at-- > 0) continue;
      b.body.to_earth =
          std::clamp(b.body.to_earth * static_cast<float>(std::exp(step)), kLeastWay, kMostWay);
      return;
    }
  }
  /// The thing that parameter `at` moves: bodies, then layers; and whether that is a turn.
  std::size_t thing_of(int at, bool& is_angle) const {
    is_angle = false;
    std::size_t thing = 0;
    const auto within = [&](const Form& f) {
      is_angle = at == 4 && count_of(f) > 4;
      if (at < count_of(f)) return true;
      at -= count_of(f);
      ++thing;
      return false;
    };
    for (const SceneBody& b : scene.bodies)
      if (within(b.form)) return thing;
    for (const Layer& l : scene.layers)
      if (within(l.form)) return thing;
    is_angle = false;
    for (thing = 0; thing < scene.bodies.size(); ++thing)
      if (scene.bodies[thing].way == WayToEarth::free && at-- == 0) break;
    return thing;
  }

 private:
  void move_form(Form& f, CoverMap& cover, int at, double step) {
    parameter(f, at) += step;
    keep_in_range(f, model);
    cover = draw(f, model);
  }
};

/// Residuals over their standard deviations, long ones drawn in as their price is.
Eigen::VectorXf residuals(const Evidence& evidence, const NodeMap& predicted) {
  Eigen::VectorXf out(predicted.size());
  for (Eigen::Index k = 0; k < out.size(); ++k) {
    const float z = (predicted(k) - evidence.departure(k)) / evidence.sigma(k);
    out(k) = z / std::sqrt(std::sqrt(1.f + z * z / 16.f));
  }
  return out;
}

/// How residuals change with each parameter, by differences; pieces of what stands still are kept.
Eigen::MatrixXf slopes(const CellModel& model, const Evidence& evidence, Scene& scene,
                       std::vector<Piece>& pieces, const Eigen::VectorXf& now) {
  Handle handle{scene, model};
  const int n = handle.count();
  const std::size_t bodies = scene.bodies.size();
  Eigen::MatrixXf out(now.size(), n);
  const auto moved = [&](int k, float step, auto& thing, Piece& piece) {
    const auto thing_before = thing;
    const Piece piece_before = std::move(piece);
    handle.move(k, static_cast<double>(step));
    piece = piece_of(model, thing);
    out.col(k) = (residuals(evidence, predict(model, scene, pieces)) - now) / step;
    thing = thing_before;
    piece = piece_before;
  };
  for (int k = 0; k < n; ++k) {
    bool is_angle = false;
    const std::size_t t = handle.thing_of(k, is_angle);
    const float step = is_angle ? 0.02f : 0.1f;
    if (t < bodies)
      moved(k, step, scene.bodies[t], pieces[t]);
    else
      moved(k, step, scene.layers[t - bodies], pieces[t]);
  }
  return out;
}

}  // namespace

CoverMap draw(const Form& form, const CellModel& model) {
  CoverMap out = CoverMap::Zero(model.cells_y(), model.cells_x());
  const double cx = model.cell_x_mm();
  const double cy = model.cell_y_mm();
  const double half = 0.5 * std::hypot(cx, cy);
  constexpr int kPoints = 3;
  const double soft = std::min(cx, cy) / kPoints;
  const Outline outline(form);
  // What lies further from the middle than any of the form's points is bare.
  const double reach =
      (form.kind == Form::Kind::disc ? form.width / 2 : std::hypot(form.width, form.height) / 2) +
      model.rim_mm() + half + soft;
  const auto within = [reach](double cell, double middle, double from, Eigen::Index cells) {
    const auto first = std::floor((middle - reach - from) / cell - 0.5);
    const auto last = std::ceil((middle + reach - from) / cell - 0.5) + 1;
    const auto most = static_cast<double>(cells);
    return std::pair{static_cast<Eigen::Index>(std::clamp(first, 0.0, most)),
                     static_cast<Eigen::Index>(std::clamp(last, 0.0, most))};
  };
  const auto [left, right] = within(cx, form.x, -CellModel::kCells * cx / 2, out.cols());
  const auto [top, bottom] = within(cy, form.y, -CellModel::kCells * cy / 2, out.rows());
  for (Eigen::Index i = left; i < right; ++i)
    for (Eigen::Index j = top; j < bottom; ++j) {
      const double x = (static_cast<double>(i) + 0.5) * cx - CellModel::kCells * cx / 2;
      const double y = (static_cast<double>(j) + 0.5) * cy - CellModel::kCells * cy / 2;
      const double middle = outline.distance_from(x, y) - model.rim_mm();
      if (std::abs(middle) > half + soft) {
        out(j, i) = middle < 0 ? 1.f : 0.f;
        continue;
      }
      double sum = 0;
      for (int a = 0; a < kPoints; ++a)
        for (int b = 0; b < kPoints; ++b) {
          const double d = outline.distance_from(x + ((a + 0.5) / kPoints - 0.5) * cx,
                                                 y + ((b + 0.5) / kPoints - 0.5) * cy) -
                           model.rim_mm();
          sum += std::clamp(0.5 - d / soft, 0.0, 1.0);
        }
      out(j, i) = static_cast<float>(sum / (kPoints * kPoints));
    }
  return out;
}

void fit_forms(const CellModel& model, const Evidence& evidence, const Prices& prices, Scene& scene,
               int rounds) {
  for (SceneBody& b : scene.bodies)
    if (b.form.kind != Form::Kind::any) b.body.cover = draw(b.form, model);
  for (Layer& l : scene.layers)
    if (l.form.kind != Form::Kind::any) l.cover = draw(l.form, model);
  weigh(model, evidence, prices, scene);
  const int n = Handle{scene, model}.count();
  if (n == 0) return;
  double damping = 0.01;
  for (int round = 0; round < rounds; ++round) {
    std::vector<Piece> pieces;
    for (const SceneBody& b : scene.bodies) pieces.push_back(piece_of(model, b));
    for (const Layer& l : scene.layers) pieces.push_back(piece_of(model, l));
    const Eigen::VectorXf now = residuals(evidence, predict(model, scene, pieces));
    const Eigen::MatrixXf jacobian = slopes(model, evidence, scene, pieces, now);
    const Eigen::MatrixXf square = jacobian.transpose() * jacobian;
    const Eigen::VectorXf along = jacobian.transpose() * now;
    const double before = scene.cost();
    bool better = false;
    for (int tries = 0; tries < 5 && !better; ++tries) {
      Eigen::MatrixXf damped = square;
      damped.diagonal().array() += static_cast<float>(damping) * square.diagonal().array() + 1e-4f;
      const Eigen::VectorXf step = -damped.ldlt().solve(along);
      Scene trial = scene;
      Handle handle{trial, model};
      for (int k = 0; k < n; ++k) {
        bool is_angle = false;
        handle.thing_of(k, is_angle);
        const double most = is_angle ? 0.4 : 4.0;
        handle.move(k, std::clamp(static_cast<double>(step(k)), -most, most));
      }
      weigh(model, evidence, prices, trial);
      better = trial.cost() < before;
      damping = better ? std::max(1e-4, damping / 5) : damping * 6;
      if (better) scene = std::move(trial);
    }
    if (!better || before - scene.cost() < 0.02) return;
  }
}

}  // namespace bareglass::infer
