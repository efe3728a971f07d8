// The quick model: kernel integrals over grown footprints, and what they are grown by.

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "bareglass/field/surface_model.hpp"
#include "line_block.hpp"

namespace bareglass::field {

namespace {

/// Signed distances of a footprint on a square raster around it.
struct Raster {
  double step = 0.25;
  double x0 = 0.0;
  double y0 = 0.0;
  Eigen::MatrixXd distance;

  Raster(const Footprint& footprint, double margin, double step_mm) : step(step_mm) {
    const Box box = footprint.bounds();
    const auto nx = static_cast<Eigen::Index>((box.x_high - box.x_low + 2.0 * margin) / step) + 2;
    const auto ny = static_cast<Eigen::Index>((box.y_high - box.y_low + 2.0 * margin) / step) + 2;
    x0 = 0.5 * (box.x_low + box.x_high - static_cast<double>(nx - 1) * step);
    y0 = 0.5 * (box.y_low + box.y_high - static_cast<double>(ny - 1) * step);
    distance.resize(nx, ny);
    for (Eigen::Index j = 0; j < ny; ++j)
      for (Eigen::Index i = 0; i < nx; ++i) distance(i, j) = footprint.distance({x(i), y(j)});
  }

  double x(Eigen::Index i) const { return x0 + static_cast<double>(i) * step; }
  double y(Eigen::Index j) const { return y0 + static_cast<double>(j) * step; }
  /// Area of each square that the footprint grown by `margin` covers, mm^2.
  Eigen::MatrixXd grown(double margin) const {
    return ((0.5 + (margin - distance.array()) / step).max(0.0).min(1.0) * (step * step)).matrix();
  }
};

/// Values of a function of x (or y) at every raster place, for a block of lines: places x lines.
Eigen::MatrixXd sample(Eigen::Index places, Eigen::Index lines,
                       const std::function<double(Eigen::Index, Eigen::Index)>& value) {
  Eigen::MatrixXd out(places, lines);
  for (Eigen::Index l = 0; l < lines; ++l)
    for (Eigen::Index p = 0; p < places; ++p) out(p, l) = value(p, l);
  return out;
}

/// Discs the allowances are fitted to: on a node, between columns, between rows, and aside.
std::vector<Footprint> fitting_discs(const SurfaceKernels& kernels) {
  std::vector<Footprint> out;
  const double x = kernels.column_pitch_mm;
  const double y = kernels.row_pitch_mm;
  for (const double part : {1.2, 1.6, 2.0, 2.4})
    for (const Point at : {Point{0, 0}, Point{0.5 * x, 0}, Point{0, 0.5 * y}, Point{x / 4, y / 4}})
      out.push_back(Footprint::disc({at.x + 4.0 * x, at.y + 4.0 * y}, part * std::min(x, y)));
  return out;
}

/// Least of a function of one variable with one minimum in low..high (golden section).
double least(double low, double high, const std::function<double(double)>& cost) {
  const double ratio = 0.5 * (std::sqrt(5.0) - 1.0);
  while (high - low > 1e-3) {
    const double a = high - ratio * (high - low);
    const double b = low + ratio * (high - low);
    const bool below = cost(a) < cost(b);
    (below ? high : low) = below ? b : a;
  }
  return 0.5 * (low + high);
}

/// The quick model of one footprint, part by part.
class QuickParts {
 public:
  QuickParts(const SurfaceKernels& kernels, const Allowances& grow, const Footprint& footprint,
             const LineRange& lines, double step_mm)
      : k_(kernels),
        grow_(grow),
        block_(block_around(kernels, footprint.bounds(), lines)),
        raster_(footprint, std::max({grow.line_mm, grow.self_mm, grow.loss_mm}), step_mm) {}

  /// C_TF and C_FR.
  void add_lines(Coupling& out) const;
  void add_loss(Coupling& out) const;
  void add_self(Coupling& out) const {
    out.self = k_.numbers.cover_per_mm2 * raster_.grown(grow_.self_mm).sum();
  }

 private:
  /// Values of a function of the distance from each line, places x lines.
  template <typename Value>
  Eigen::MatrixXd by_columns(const Value& value) const {
    return sample(nx(), block_.to_column.size(), [&](auto i, auto c) {
      return value(raster_.x(i) -
                   static_cast<double>(c + block_.first_column) * k_.column_pitch_mm);
    });
  }
  template <typename Value>
  Eigen::MatrixXd by_rows(const Value& value) const {
    return sample(ny(), block_.to_row.size(), [&](auto j, auto r) {
      return value(raster_.y(j) - static_cast<double>(r + block_.first_row) * k_.row_pitch_mm);
    });
  }
  Eigen::Index nx() const { return raster_.distance.rows(); }
  Eigen::Index ny() const { return raster_.distance.cols(); }

  const SurfaceKernels& k_;
  const Allowances& grow_;
  Coupling block_;
  Raster raster_;
};

void QuickParts::add_lines(Coupling& out) const {
  const Eigen::MatrixXd line_area = raster_.grown(grow_.line_mm);
  for (const Separable& term : k_.q_row.terms) {
    const Eigen::MatrixXd x = sample(
        nx(), 1, [&](auto i, auto) { return term.x.periodic(raster_.x(i), k_.column_pitch_mm); });
    const Eigen::MatrixXd y = by_rows([&](double at) { return term.y.local(at); });
    out.to_row += y.transpose() * (line_area.transpose() * x);
  }
  for (const Separable& term : k_.q_column.terms) {
    const Eigen::MatrixXd x = by_columns([&](double at) { return term.x.local(at); });
    const Eigen::MatrixXd y = sample(
        ny(), 1, [&](auto j, auto) { return term.y.periodic(raster_.y(j), k_.row_pitch_mm); });
    out.to_column += x.transpose() * (line_area * y);
  }
}

void QuickParts::add_loss(Coupling& out) const {
  const Eigen::MatrixXd loss_area = raster_.grown(grow_.loss_mm);
  for (const Separable& term : k_.loss.terms) {
    const Eigen::MatrixXd x = by_columns([&](double at) { return term.x.local(at); });
    const Eigen::MatrixXd y = by_rows([&](double at) { return term.y.local(at); });
    out.loss += y.transpose() * loss_area.transpose() * x;
  }
  const double full = k_.numbers.full_loss;
  out.loss = out.loss.unaryExpr([&](double loss) {
    const double open = std::clamp(1.0 - loss / full, 0.0, 1.0);
    return full * (1.0 - std::pow(open, grow_.loss_power));
  });
}

}  // namespace

Coupling SurfaceModel::quick(const Footprint& footprint, const LineRange& lines,
                             double step_mm) const {
  Coupling out = block_around(kernels_, footprint.bounds(), lines);
  if (footprint.empty()) return out;
  const QuickParts parts(kernels_, kernels_.allowances, footprint, lines, step_mm);
  parts.add_lines(out);
  parts.add_loss(out);
  parts.add_self(out);
  return out;
}

Allowances fit_allowances(const SurfaceKernels& kernels) {
  const LineRange lines{9, 9};
  const std::vector<Footprint> discs = fitting_discs(kernels);
  const SurfaceModel reference(kernels);
  std::vector<Coupling> wanted;
  for (const Footprint& disc : discs) wanted.push_back(reference.couple(disc, lines));

  // Squared error of one part of the quick model, over all discs.
  const auto cost = [&](const Allowances& allowances, auto add, auto&& part) {
    constexpr double kStep = 0.25;  // mm
    double sum = 0.0;
    for (std::size_t d = 0; d < discs.size(); ++d) {
      Coupling quick = block_around(kernels, discs[d].bounds(), lines);
      (QuickParts(kernels, allowances, discs[d], lines, kStep).*add)(quick);
      sum += part(quick, wanted[d]);
    }
    return sum;
  };
  Allowances fit;
  const double widest = 0.6 * std::min(kernels.column_pitch_mm, kernels.row_pitch_mm);
  const auto search = [&](double Allowances::*which, double low, double high, auto add,
                          auto&& part) {
    fit.*which = least(low, high, [&](double value) {
      Allowances trial = fit;
      trial.*which = value;
      return cost(trial, add, part);
    });
  };
  search(&Allowances::line_mm, 0.0, widest, &QuickParts::add_lines,
         [](const Coupling& a, const Coupling& b) {
           return (a.to_row - b.to_row).squaredNorm() + (a.to_column - b.to_column).squaredNorm();
         });
  search(&Allowances::self_mm, 0.0, widest, &QuickParts::add_self,
         [](const Coupling& a, const Coupling& b) { return std::pow(a.self / b.self - 1.0, 2); });
  // Growth and power trade against each other: alternate until both rest.
  const auto loss = [](const Coupling& a, const Coupling& b) {
    return (a.loss - b.loss).squaredNorm();
  };
  for (int round = 0; round < 6; ++round) {
    search(&Allowances::loss_mm, 0.0, widest, &QuickParts::add_loss, loss);
    search(&Allowances::loss_power, 1.0, 2.5, &QuickParts::add_loss, loss);
  }
  return fit;
}

}  // namespace bareglass::field
