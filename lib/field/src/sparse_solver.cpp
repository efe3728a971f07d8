#include "bareglass/field/sparse_solver.hpp"

#include <Eigen/Sparse>
#include <algorithm>
#include <array>
#include <stdexcept>

namespace bareglass::field {

namespace {

using Matrix = Eigen::SparseMatrix<double>;

int cells(const Axis& axis) { return std::max(1, axis.size() - 1); }

/// The one or two cells beside line `i`, and the part of each that belongs to the line, mm.
struct Beside {
  std::array<int, 2> cell{};
  std::array<double, 2> part{};
  int count = 0;
};

Beside beside(const Axis& axis, int i) {
  Beside out;
  if (axis.size() == 1) return {{0, 0}, {1.0, 0.0}, 1};
  for (const int cell : {i - 1, i}) {
    if (cell < 0 || cell + 1 >= axis.size()) continue;
    out.cell[static_cast<std::size_t>(out.count)] = cell;
    out.part[static_cast<std::size_t>(out.count++)] = 0.5 * axis.cell(cell);
  }
  return out;
}

}  // namespace

std::size_t SparseDomain::node(int i, int j, int k) const {
  return (static_cast<std::size_t>(k) * static_cast<std::size_t>(y.size()) +
          static_cast<std::size_t>(j)) *
             static_cast<std::size_t>(x.size()) +
         static_cast<std::size_t>(i);
}

std::size_t SparseDomain::cell(int i, int j, int k) const {
  return static_cast<std::size_t>((k * cells(y) + j) * cells(x) + i);
}

void SparseDomain::allocate() {
  permittivity.assign(static_cast<std::size_t>(cells(x) * cells(y) * cells(z)), 1.0);
  label.assign(static_cast<std::size_t>(x.size() * y.size() * z.size()), -1);
}

SparseSolver::SparseSolver(SparseDomain domain) : domain_(std::move(domain)) {
  const SparseDomain& d = domain_;
  if (d.permittivity.size() != static_cast<std::size_t>(cells(d.x) * cells(d.y) * cells(d.z)))
    throw std::invalid_argument("a sparse domain needs one permittivity per cell");
  if (d.label.size() != static_cast<std::size_t>(d.x.size() * d.y.size() * d.z.size()))
    throw std::invalid_argument("a sparse domain needs one label per node");
  for (int axis = 0; axis < 3; ++axis) add_branches(axis);
  for (const int label : d.label) unknown_.push_back(label < 0 ? unknown_count_++ : -1);
}

double SparseSolver::branch(int axis, int i, int j, int k) const {
  const SparseDomain& d = domain_;
  const std::array<int, 3> at{i, j, k};
  const std::array<const Axis*, 3> axes{&d.x, &d.y, &d.z};
  const int second = (axis + 1) % 3;
  const int third = (axis + 2) % 3;
  const auto pick = [](const auto& array, int index) {
    return array[static_cast<std::size_t>(index)];
  };
  const Beside b = beside(*pick(axes, second), pick(at, second));
  const Beside c = beside(*pick(axes, third), pick(at, third));
  double sum = 0.0;
  for (int m = 0; m < b.count; ++m) {
    for (int n = 0; n < c.count; ++n) {
      std::array<int, 3> cell = at;
      cell[static_cast<std::size_t>(second)] = pick(b.cell, m);
      cell[static_cast<std::size_t>(third)] = pick(c.cell, n);
      sum += pick(b.part, m) * pick(c.part, n) * d.permittivity[d.cell(cell[0], cell[1], cell[2])];
    }
  }
  return kEps0 * sum / pick(axes, axis)->cell(pick(at, axis));
}

void SparseSolver::add_branches(int axis) {
  const SparseDomain& d = domain_;
  const std::array<int, 3> step{axis == 0, axis == 1, axis == 2};
  for (int k = 0; k + step[2] < d.z.size(); ++k) {
    for (int j = 0; j + step[1] < d.y.size(); ++j) {
      for (int i = 0; i + step[0] < d.x.size(); ++i) {
        branches_.push_back({static_cast<int>(d.node(i, j, k)),
                             static_cast<int>(d.node(i + step[0], j + step[1], k + step[2])),
                             branch(axis, i, j, k)});
      }
    }
  }
}

template <typename Solve>
SparseSolution SparseSolver::solve_with(const Eigen::VectorXd& volts, const Solve& solve) const {
  const auto held = [&](int n) { return domain_.label[static_cast<std::size_t>(n)]; };
  const auto unknown = [&](int n) { return unknown_[static_cast<std::size_t>(n)]; };
  std::vector<Eigen::Triplet<double>> entries;
  entries.reserve(2 * branches_.size() + static_cast<std::size_t>(unknown_count_));
  Eigen::VectorXd diagonal = Eigen::VectorXd::Zero(unknown_count_);
  Eigen::VectorXd source = Eigen::VectorXd::Zero(unknown_count_);
  for (const Branch& b : branches_) {
    const int from = unknown(b.from);
    const int to = unknown(b.to);
    if (from >= 0) diagonal(from) += b.conductance;
    if (to >= 0) diagonal(to) += b.conductance;
    if (from >= 0 && to >= 0) entries.emplace_back(to, from, -b.conductance);
    if (from >= 0 && to < 0) source(from) += b.conductance * volts(held(b.to));
    if (to >= 0 && from < 0) source(to) += b.conductance * volts(held(b.from));
  }
  for (int u = 0; u < unknown_count_; ++u) entries.emplace_back(u, u, diagonal(u));
  // Nodes are numbered along x first, so `to` exceeds `from`: this is the lower triangle.
  Matrix matrix(unknown_count_, unknown_count_);
  matrix.setFromTriplets(entries.begin(), entries.end());

  SparseSolution out;
  const Eigen::VectorXd free = solve(matrix, source, out.iterations);
  out.potential.resize(static_cast<Eigen::Index>(domain_.label.size()));
  for (int n = 0; n < out.potential.size(); ++n)
    out.potential(n) = unknown(n) >= 0 ? free(unknown(n)) : volts(held(n));
  out.conductor = Eigen::VectorXd::Zero(volts.size());
  for (const Branch& b : branches_) {
    const double flux = b.conductance * (out.potential(b.from) - out.potential(b.to));
    if (held(b.from) >= 0) out.conductor(held(b.from)) += flux;
    if (held(b.to) >= 0) out.conductor(held(b.to)) -= flux;
  }
  return out;
}

SparseSolution SparseSolver::solve(const Eigen::VectorXd& volts, double tolerance,
                                   const Eigen::VectorXd& guess) const {
  using Factor = Eigen::IncompleteCholesky<double, Eigen::Lower, Eigen::NaturalOrdering<int>>;
  return solve_with(volts, [&](const Matrix& matrix, const Eigen::VectorXd& source, int& steps) {
    Eigen::ConjugateGradient<Matrix, Eigen::Lower, Factor> solver;
    solver.setTolerance(tolerance);
    solver.setMaxIterations(3000);
    solver.compute(matrix);
    Eigen::VectorXd start = Eigen::VectorXd::Zero(unknown_count_);
    for (Eigen::Index n = 0; n < guess.size(); ++n)
      if (unknown_[static_cast<std::size_t>(n)] >= 0)
        start(unknown_[static_cast<std::size_t>(n)]) = guess(n);
    Eigen::VectorXd free = solver.solveWithGuess(source, start);
    steps = static_cast<int>(solver.iterations());
    if (solver.info() != Eigen::Success)
      throw std::runtime_error("the sparse field solution did not converge");
    return free;
  });
}

SparseSolution SparseSolver::solve_direct(const Eigen::VectorXd& volts) const {
  return solve_with(volts, [](const Matrix& matrix, const Eigen::VectorXd& source, int&) {
    const Eigen::SimplicialLDLT<Matrix, Eigen::Lower> solver(matrix);
    if (solver.info() != Eigen::Success)
      throw std::runtime_error("the sparse field factorisation failed");
    return Eigen::VectorXd(solver.solve(source));
  });
}

}  // namespace bareglass::field
