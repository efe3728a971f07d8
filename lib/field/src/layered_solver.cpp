#include "bareglass/field/layered_solver.hpp"

#include <cmath>
#include <stdexcept>

#include "bareglass/field/solution_store.hpp"
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
}

const LayeredSolver::Modes& LayeredSolver::modes() const {
  if (!modes_) modes_ = found_modes();
  return *modes_;
}

std::unique_ptr<LayeredSolver::Modes> LayeredSolver::found_modes() const {
  auto out = std::make_unique<Modes>();
  axis_modes(domain_.x, x_share_, out->x, out->x_values);
  axis_modes(domain_.y, y_share_, out->y, out->y_values);
  const int planes = plane_count();
  out->response.assign(static_cast<std::size_t>(planes * planes), Eigen::MatrixXd(nx(), ny()));
  out->stiffness = out->response;
  VerticalLine line(domain_);
  std::vector<double> column(static_cast<std::size_t>(line.count()));
  Eigen::MatrixXd block(planes, planes);
  const auto row_of = [&](int p) {
    return static_cast<std::size_t>(domain_.planes[static_cast<std::size_t>(p)] - line.first());
  };
  for (int j = 0; j < ny(); ++j) {
    for (int i = 0; i < nx(); ++i) {
      line.factorise(out->x_values(i) + out->y_values(j));
      for (int q = 0; q < planes; ++q) {
        std::fill(column.begin(), column.end(), 0.0);
        column[row_of(q)] = 1.0;
        line.solve(column);
        for (int p = 0; p < planes; ++p) block(p, q) = column[row_of(p)];
      }
      const Eigen::MatrixXd inverse = block.inverse();
      for (int p = 0; p < planes; ++p) {
        for (int q = 0; q < planes; ++q) {
          out->response[static_cast<std::size_t>(p * planes + q)](i, j) = block(p, q);
          out->stiffness[static_cast<std::size_t>(p * planes + q)](i, j) = inverse(p, q);
        }
      }
    }
  }
  return out;
}

PlaneField LayeredSolver::to_modes(const PlaneField& values) const {
  const PlaneField half = modes().x.transpose() * values;
  PlaneField out(nx(), ny() * plane_count());
  for (int p = 0; p < plane_count(); ++p)
    out.middleCols(p * ny(), ny()).noalias() = half.middleCols(p * ny(), ny()) * modes().y;
  return out;
}

PlaneField LayeredSolver::from_modes(const PlaneField& values) const {
  PlaneField half(nx(), ny() * plane_count());
  for (int p = 0; p < plane_count(); ++p)
    half.middleCols(p * ny(), ny()).noalias() =
        values.middleCols(p * ny(), ny()) * modes().y.transpose();
  return modes().x * half;
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
  PlaneField weights = to_modes(charge);
  mix(weights, modes().response);
  return from_modes(weights);
}

PlaneField LayeredSolver::stiffen(const PlaneField& potential) const {
  const auto weigh = [&](PlaneField field) {
    field = x_share_.asDiagonal() * field;
    for (int p = 0; p < plane_count(); ++p)
      field.middleCols(p * ny(), ny()) = field.middleCols(p * ny(), ny()) * y_share_.asDiagonal();
    return field;
  };
  PlaneField weights = to_modes(weigh(potential));
  mix(weights, modes().stiffness);
  return weigh(from_modes(weights));
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

Eigen::VectorXd LayeredSolver::conductors(const PlaneLabels& labels,
                                          const Eigen::VectorXd& volts) const {
  SolutionKey key("layered");
  key.add(domain_.x).add(domain_.y).add(domain_.z);
  for (const double permittivity : domain_.permittivity) key.add(permittivity);
  key.add(domain_.ground_bottom).add(domain_.ground_top);
  for (const int plane : domain_.planes) key.add(plane);
  for (const int label : labels.reshaped()) key.add(label);
  for (const double volt : volts) key.add(volt);
  const std::vector<double> charge = kept_or_solved(key, [&] {
    const Eigen::VectorXd solved = solve(labels, volts).conductor;
    return std::vector<double>(solved.begin(), solved.end());
  });
  return Eigen::Map<const Eigen::VectorXd>(charge.data(), volts.size());
}

Eigen::MatrixXd LayeredSolver::potential_at(const LayeredSolution& solution, int level) const {
  const PlaneField weights = to_modes(solution.charge);
  VerticalLine line(domain_);
  if (level < line.first() || level > line.last()) return Eigen::MatrixXd::Zero(nx(), ny());
  std::vector<double> column(static_cast<std::size_t>(line.count()));
  Eigen::MatrixXd out(nx(), ny());
  for (int j = 0; j < ny(); ++j) {
    for (int i = 0; i < nx(); ++i) {
      std::fill(column.begin(), column.end(), 0.0);
      for (int p = 0; p < plane_count(); ++p)
        column[static_cast<std::size_t>(domain_.planes[static_cast<std::size_t>(p)] -
                                        line.first())] = weights(i, p * ny() + j);
      line.factorise(modes().x_values(i) + modes().y_values(j));
      line.solve(column);
      out(i, j) = column[static_cast<std::size_t>(level - line.first())];
    }
  }
  return modes().x * out * modes().y.transpose();
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
