// Outlines of few parameters, fitted by damped least squares.

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "objective.hpp"

namespace bareglass::infer {

namespace {

double distance_from(const Form& f, double x, double y) {
  const double dx = x - f.x;
  const double dy = y - f.y;
  if (f.kind == Form::Kind::disc) return std::hypot(dx, dy) - f.width / 2;
  const double along = std::abs(dx * std::cos(f.angle) + dy * std::sin(f.angle)) - f.width / 2;
  const double across = std::abs(-dx * std::sin(f.angle) + dy * std::cos(f.angle)) - f.height / 2;
  const double outside = std::hypot(std::max(along, 0.0), std::max(across, 0.0));
  return outside + std::min(0.0, std::max(along, across));
}

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
  bool is_angle(int at) const {
    for (const SceneBody& b : scene.bodies) {
      if (at < count_of(b.form)) return at == 4;
      at -= count_of(b.form);
    }
    for (const Layer& l : scene.layers) {
      if (at < count_of(l.form)) return at == 4;
      at -= count_of(l.form);
    }
    return false;
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

}  // namespace

CoverMap draw(const Form& form, const CellModel& model) {
  CoverMap out(model.cells_y(), model.cells_x());
  const double cx = model.cell_x_mm();
  const double cy = model.cell_y_mm();
  const double half = 0.5 * std::hypot(cx, cy);
  constexpr int kPoints = 3;
  const double soft = std::min(cx, cy) / kPoints;
  for (Eigen::Index i = 0; i < out.cols(); ++i)
    for (Eigen::Index j = 0; j < out.rows(); ++j) {
      const double x = (static_cast<double>(i) + 0.5) * cx - CellModel::kCells * cx / 2;
      const double y = (static_cast<double>(j) + 0.5) * cy - CellModel::kCells * cy / 2;
      const double middle = distance_from(form, x, y) - model.rim_mm();
      if (std::abs(middle) > half + soft) {
        out(j, i) = middle < 0 ? 1.f : 0.f;
        continue;
      }
      double sum = 0;
      for (int a = 0; a < kPoints; ++a)
        for (int b = 0; b < kPoints; ++b) {
          const double d = distance_from(form, x + ((a + 0.5) / kPoints - 0.5) * cx,
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
    const Eigen::VectorXf now = residuals(evidence, predict(model, scene));
    Eigen::MatrixXf jacobian(now.size(), n);
    for (int k = 0; k < n; ++k) {
      Scene moved = scene;
      Handle handle{moved, model};
      const float step = handle.is_angle(k) ? 0.02f : 0.1f;
      handle.move(k, static_cast<double>(step));
      jacobian.col(k) = (residuals(evidence, predict(model, moved)) - now) / step;
    }
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
        const double most = handle.is_angle(k) ? 0.4 : 4.0;
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
