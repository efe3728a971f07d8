#include "patch_check.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::infer {

namespace {

constexpr double kHalfTurn = 3.14159265358979323846;
constexpr int kCorners = 28;  // of a disc as a polygon
// Patches whose factorisation takes a millisecond or two. They lie along the outline, some rows
// deep; what would need them wider than two millimetres is large enough for the raster.
constexpr double kRows = 2.2;
constexpr double kPatches = 220.0;
constexpr double kCoarsest_mm = 2.0;

field::Footprint outline_of(const Form& f, double to_x, double to_y) {
  field::Polygon p;
  const auto add = [&](double along, double across) {
    const double x = f.x + along * std::cos(f.angle) - across * std::sin(f.angle);
    const double y = f.y + along * std::sin(f.angle) + across * std::cos(f.angle);
    p.corners.push_back({x * to_x, y * to_y});
  };
  if (f.kind == Form::Kind::disc) {
    // As large as the disc: a polygon on the circle itself would be smaller.
    const double r =
        f.width / 2 * std::sqrt(2 * kHalfTurn / kCorners / std::sin(2 * kHalfTurn / kCorners));
    for (int k = 0; k < kCorners; ++k)
      add(r * std::cos(2 * kHalfTurn * k / kCorners), r * std::sin(2 * kHalfTurn * k / kCorners));
  } else {
    for (const auto& [a, b] : {std::pair{-1, -1}, {1, -1}, {1, 1}, {-1, 1}})
      add(a * f.width / 2, b * f.height / 2);
  }
  return field::Footprint({p});
}

double outline_mm(const Form& f) {
  return f.kind == Form::Kind::disc ? kHalfTurn * f.width : 2 * (f.width + f.height);
}

}  // namespace

PatchCheck::PatchCheck(const field::SurfaceKernels& kernels, double pitch_x_mm, double pitch_y_mm)
    : surface_(kernels),
      to_x_(kernels.column_pitch_mm / pitch_x_mm),
      to_y_(kernels.row_pitch_mm / pitch_y_mm),
      grown_(static_cast<float>(1.0 / std::sqrt(to_x_ * to_y_))) {}

PatchCheck::~PatchCheck() = default;

void PatchCheck::ask(const CellModel& model, Scene& scene) const {
  for (SceneBody& b : scene.bodies) {
    b.beyond.resize(0, 0);
    if (b.form.kind == Form::Kind::any) continue;
    const double step =
        std::max(0.5, kRows * outline_mm(b.form) * std::sqrt(to_x_ * to_y_) / kPatches);
    if (step > kCoarsest_mm) continue;
    const field::PatchedObject cut = surface_.cut(outline_of(b.form, to_x_, to_y_), step);
    if (!cut.factorised()) continue;
    const field::Coupling c = surface_.couple(cut, {0, 0}, {model.rows(), model.columns()});
    const double way = static_cast<double>(b.body.to_earth / grown_);
    b.beyond.resize(model.rows(), model.columns());
    for (int col = 0; col < model.columns(); ++col)
      for (int row = 0; row < model.rows(); ++row)
        b.beyond(row, col) = -grown_ * static_cast<float>(c.change(row, col, way));
    b.beyond -= model.loss(model.covered(b.body.cover));
    if (!std::isinf(b.body.to_earth))
      b.beyond += CellModel::passed_on(model.couple(b.body.cover), b.body.to_earth);
  }
}

}  // namespace bareglass::infer
