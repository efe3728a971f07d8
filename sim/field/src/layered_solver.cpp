#include "bareglass/field/layered_solver.hpp"

#include <cmath>
#include <stdexcept>

#include "vertical_line.hpp"

namespace bareglass::field {

namespace {

constexpr int kMostSteps = 500;

Eigen::VectorXd shares(const Axis& axis) {
  Eigen::VectorXd share(axis.size());
  for (int i = 0; i < axis.size(); ++i) share(i) = axis.share(i);
  return share;
}

/// Modes of -d2/dx2 with no flux through the ends: K v = value M v, v' M v = 1.
void axis_modes(const Axis& axis, const Eigen::VectorXd& share, Eigen::MatrixXd& modes,
                Eigen::VectorXd& values) {
  const int n = axis.size();
  Eigen::VectorXd diagonal = Eigen::VectorXd::Zero(n);
  Eigen::VectorXd beside = Eigen::VectorXd::Zero(std::max(0, n - 1));
  for (int i = 0; i + 1 < n; ++i) {
    diagonal(i) += 1.0 / axis.cell(i) / share(i);
    diagonal(i + 1) += 1.0 / axis.cell(i) / share(i + 1);
    beside(i) = -1.0 / axis.cell(i) / std::sqrt(share(i) * share(i + 1));
  }
  if (n == 1) {
    modes = Eigen::MatrixXd::Constant(1, 1, 1.0 / std::sqrt(share(0)));
    values = Eigen::VectorXd::Zero(1);
    return;
  }
  Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver;
  solver.computeFromTridiagonal(diagonal, beside);
  if (solver.info() != Eigen::Success)
    throw std::runtime_error("the grid's modes did not converge");
  values = solver.eigenvalues().cwiseMax(0.0);
  modes = share.cwiseSqrt().cwiseInverse().asDiagonal() * solver.eigenvectors();
}

void check(const LayeredDomain& domain) {
  const auto fail = [](const char* what) { throw std::invalid_argument(what); };
  if (domain.z.size() < 3) fail("a layered domain needs three z lines");
  if (static_cast<int>(domain.permittivity.size()) != domain.z.size() - 1)
    fail("a layered domain needs one permittivity per z cell");
  if (domain.planes.empty()) fail("a layered domain needs an electrode plane");
  for (std::size_t p = 0; p < domain.planes.size(); ++p) {
    if (domain.planes[p] < 1 || domain.planes[p] > domain.z.size() - 2)
      fail("an electrode plane lies outside the domain");
    if (p > 0 && domain.planes[p] <= domain.planes[p - 1]) fail("electrode planes must rise");
  }
  if (!domain.ground_bottom && !domain.ground_top) fail("a layered domain needs a grounded end");
}

}  // namespace

LayeredSolver::LayeredSolver(LayeredDomain domain) : domain_(std::move(domain)) {
  check(domain_);
  x_share_ = shares(domain_.x);
  y_share_ = shares(domain_.y);
  axis_modes(domain_.x, x_share_, x_modes_, x_values_);
  axis_modes(domain_.y, y_share_, y_modes_, y_values_);
  build_modes();
}

void LayeredSolver::build_modes() {
  const int planes = plane_count();
  response_.assign(static_cast<std::size_t>(planes * planes), Eigen::MatrixXd(nx(), ny()));
  stiffness_ = response_;
  VerticalLine line(domain_);
  std::vector<double> column(static_cast<std::size_t>(line.count()));
  Eigen::MatrixXd block(planes, planes);
  const auto row_of = [&](int p) {
    return static_cast<std::size_t>(domain_.planes[static_cast<std::size_t>(p)] - line.first());
  };
  for (int j = 0; j < ny(); ++j) {
    for (int i = 0; i < nx(); ++i) {
      line.factorise(x_values_(i) + y_values_(j));
      for (int q = 0; q < planes; ++q) {
        std::fill(column.begin(), column.end(), 0.0);
        column[row_of(q)] = 1.0;
        line.solve(column);
        for (int p = 0; p < planes; ++p) block(p, q) = column[row_of(p)];
      }
      const Eigen::MatrixXd inverse = block.inverse();
      for (int p = 0; p < planes; ++p) {
        for (int q = 0; q < planes; ++q) {
          response_[static_cast<std::size_t>(p * planes + q)](i, j) = block(p, q);
          stiffness_[static_cast<std::size_t>(p * planes + q)](i, j) = inverse(p, q);
        }
      }
    }
  }
}

PlaneField LayeredSolver::to_modes(const PlaneField& values) const {
  const PlaneField half = x_modes_.transpose() * values;
  PlaneField out(nx(), ny() * plane_count());
  for (int p = 0; p < plane_count(); ++p)
    out.middleCols(p * ny(), ny()).noalias() = half.middleCols(p * ny(), ny()) * y_modes_;
  return out;
}

PlaneField LayeredSolver::from_modes(const PlaneField& values) const {
  PlaneField half(nx(), ny() * plane_count());
  for (int p = 0; p < plane_count(); ++p)
    half.middleCols(p * ny(), ny()).noalias() =
        values.middleCols(p * ny(), ny()) * y_modes_.transpose();
  return x_modes_ * half;
}

void LayeredSolver::mix(PlaneField& values, const std::vector<Eigen::MatrixXd>& matrix) const {
  const int planes = plane_count();
  const PlaneField in = values;
  for (int p = 0; p < planes; ++p) {
    auto out = values.middleCols(p * ny(), ny()).array();
    out.setZero();
    for (int q = 0; q < planes; ++q)
      out += matrix[static_cast<std::size_t>(p * planes + q)].array() *
             in.middleCols(q * ny(), ny()).array();
  }
}

PlaneField LayeredSolver::respond(const PlaneField& charge) const {
  PlaneField modes = to_modes(charge);
  mix(modes, response_);
  return from_modes(modes);
}

PlaneField LayeredSolver::stiffen(const PlaneField& potential) const {
  const auto weigh = [&](PlaneField field) {
    field = x_share_.asDiagonal() * field;
    for (int p = 0; p < plane_count(); ++p)
      field.middleCols(p * ny(), ny()) = field.middleCols(p * ny(), ny()) * y_share_.asDiagonal();
    return field;
  };
  PlaneField modes = to_modes(weigh(potential));
  mix(modes, stiffness_);
  return weigh(from_modes(modes));
}

PlaneLabels LayeredSolver::bare_labels() const {
  return PlaneLabels::Constant(nx(), ny() * plane_count(), kBare);
}

LayeredSolution LayeredSolver::solve(const PlaneLabels& labels, const Eigen::VectorXd& volts,
                                     double tolerance) const {
  if (labels.rows() != nx() || labels.cols() != ny() * plane_count())
    throw std::invalid_argument("the labels do not fit the electrode planes");
  const PlaneField held = (labels.array() != kBare).cast<double>();
  PlaneField wanted = PlaneField::Zero(labels.rows(), labels.cols());
  for (Eigen::Index n = 0; n < labels.size(); ++n)
    if (labels(n) != kBare) wanted(n) = volts(labels(n));

  LayeredSolution out;
  out.charge = PlaneField::Zero(labels.rows(), labels.cols());
  // Starting from the preconditioner's answer saves the first step.
  PlaneField residual = wanted;
  PlaneField search;
  double old_product = 0.0;
  const double limit = tolerance * std::sqrt(wanted.squaredNorm());
  while (residual.norm() > limit) {
    if (++out.iterations > kMostSteps)
      throw std::runtime_error("the field solution did not converge in 500 steps");
    const PlaneField better = stiffen(residual).cwiseProduct(held);
    const double product = better.cwiseProduct(residual).sum();
    search = out.iterations == 1 ? better : PlaneField(better + product / old_product * search);
    old_product = product;
    const PlaneField image = respond(search).cwiseProduct(held);
    const double step = product / search.cwiseProduct(image).sum();
    out.charge += step * search;
    residual -= step * image;
  }
  out.potential = respond(out.charge);
  out.conductor = Eigen::VectorXd::Zero(volts.size());
  for (Eigen::Index n = 0; n < labels.size(); ++n)
    if (labels(n) != kBare) out.conductor(labels(n)) += out.charge(n);
  return out;
}

Eigen::MatrixXd LayeredSolver::potential_at(const LayeredSolution& solution, int level) const {
  const PlaneField modes = to_modes(solution.charge);
  VerticalLine line(domain_);
  if (level < line.first() || level > line.last()) return Eigen::MatrixXd::Zero(nx(), ny());
  std::vector<double> column(static_cast<std::size_t>(line.count()));
  Eigen::MatrixXd out(nx(), ny());
  for (int j = 0; j < ny(); ++j) {
    for (int i = 0; i < nx(); ++i) {
      std::fill(column.begin(), column.end(), 0.0);
      for (int p = 0; p < plane_count(); ++p)
        column[static_cast<std::size_t>(domain_.planes[static_cast<std::size_t>(p)] -
                                        line.first())] = modes(i, p * ny() + j);
      line.factorise(x_values_(i) + y_values_(j));
      line.solve(column);
      out(i, j) = column[static_cast<std::size_t>(level - line.first())];
    }
  }
  return x_modes_ * out * y_modes_.transpose();
}

double LayeredSolver::ground_charge(const LayeredSolution& solution) const {
  const int last = domain_.z.size() - 1;
  const auto flux = [&](int beside, int cell) {
    const Eigen::MatrixXd near = potential_at(solution, beside);
    const double lift =
        kEps0 * domain_.permittivity[static_cast<std::size_t>(cell)] / domain_.z.cell(cell);
    return lift * x_share_.dot(near * y_share_);
  };
  return -(domain_.ground_bottom ? flux(1, 0) : 0.0) -
         (domain_.ground_top ? flux(last - 1, last - 1) : 0.0);
}

}  // namespace bareglass::field
