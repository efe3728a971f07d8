#pragma once
// The tridiagonal system in z that remains of one mode.

#include <vector>

#include "bareglass/field/layered_solver.hpp"

namespace bareglass::field {

/// Coefficients of all free z lines, per unit area: (s * spread + lift) phi = charge, with s the
/// sum of the mode's x and y eigenvalues, 1/mm^2.
class VerticalLine {
 public:
  explicit VerticalLine(const LayeredDomain& domain);

  int first() const { return first_; }
  int last() const { return last_; }
  int count() const { return last_ - first_ + 1; }
  /// Factorises for eigenvalue sum `s`.
  void factorise(double s);
  /// Solves in place; `values` holds count() entries, entry 0 for line first().
  void solve(std::vector<double>& values) const;

 private:
  int first_;
  int last_;
  std::vector<double> spread_;  ///< eps0 eps_r times control height, fF
  std::vector<double> lift_;    ///< eps0 eps_r / cell height towards the next line, fF/mm^2
  std::vector<double> sum_;     ///< diagonal part of the lift, walls included
  std::vector<double> pivot_;
};

}  // namespace bareglass::field
