#pragma once
// How the lines' own relief changes the slab of the fast model, and the bare potentials that go
// with it.

#include <Eigen/Dense>
#include <vector>

#include "bareglass/field/surface_kernels.hpp"
#include "spot_response.hpp"

namespace bareglass::field {

/// The ground of the slab is not flat: over the stripes it lies higher than between them, so charge
/// on the surface has more capacitance there. To first order (J. Hadamard's variation of a Green's
/// function with the boundary, 1908) a relief h(z) of the ground takes
///   dG(p, p') = - integral of h(z) e(z - p) e(z - p') dz
/// from the potential between p and p', e being the field that a spot makes at the flat ground. Of
/// h only waves as long as a pitch reach the surface; one across the columns and one across the
/// rows are kept, each as high as the kernels themselves tell.
class LineRelief {
 public:
  /// One wave of the relief, 2 h cos(k x) or 2 h cos(k y).
  struct Wave {
    bool along_x = true;
    double k = 0.0;       ///< 1/mm
    double height = 0.0;  ///< h, V per (fF/mm^2)
  };

  LineRelief(const SurfaceKernels& kernels, const SpotResponse& spot);

  const std::vector<Wave>& waves() const { return waves_; }
  /// - dG of wave number `w` between spots (dx, dy) mm apart whose middle lies on a crest, V per
  /// fF*V; elsewhere as the cosine of the middle's phase.
  double between(std::size_t w, double dx, double dy) const;

  /// Bare potentials that put exactly the kernels' charge on a cover of the whole glass: what the
  /// lines' potentials phi are, but for what the model itself neglects; they reach kReach mm.
  const Kernel& phi_row() const { return phi_row_; }
  const Kernel& phi_column() const { return phi_column_; }
  /// What a node loses to a cover of the whole glass by these potentials, fF.
  double cover_loss() const { return cover_loss_; }

  static constexpr double kReach = 60.0;

 private:
  void find_waves(const SurfaceKernels& kernels, const SpotResponse& spot);
  void tabulate(const SpotResponse& spot);

  std::vector<Wave> waves_;
  std::vector<Eigen::MatrixXd> tables_;  ///< of between(), dx down and dy across
  Kernel phi_row_;
  Kernel phi_column_;
  double cover_loss_ = 0.0;
};

}  // namespace bareglass::field
