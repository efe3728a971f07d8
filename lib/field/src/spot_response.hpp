#pragma once
// The potential that a charged spot on the glass makes around it, all lines grounded.

#include <vector>

namespace bareglass::field {

/// A uniform slab on a ground plane, by images in a microstrip's substrate (P. Silvester, TEM wave
/// properties of microstrip transmission lines, Proc. IEE 115, 1968), below grounded surroundings.
/// The slab is as thick as makes a full cover agree with the panel's c_F.
class SpotResponse {
 public:
  /// Cover glass of relative permittivity `eps`; `cover_per_mm2` is c_F, fF/mm^2, and
  /// `surroundings_mm` as in PanelSpec.
  SpotResponse(double eps, double cover_per_mm2, double surroundings_mm);

  /// Potential of a square of side `step` mm, averaged over it, that a charge of 1 fF*V, spread
  /// evenly over another such square (dx, dy) mm away, makes there; V. Not for the same square.
  double between(double dx, double dy, double step) const;
  /// The same to 1e-4, three times as fast.
  double across(double dx, double dy, double step) const;
  /// The part of a square's potential on itself that comes from reflections, V per fF*V.
  double reflected(double distance_mm) const;
  /// The rest of it, which grows as the square shrinks.
  double own(double step) const;
  /// Charge density that a potential of 1 V makes that varies as a wave of wave number `k`, 1/mm;
  /// fF/mm^2.
  double charge_per_volt(double k) const;
  /// Field of such a charge density at the slab's ground, of one that does not vary 1.
  double field_at_ground(double k) const;

 private:
  double images(double distance_mm) const;
  double lid(double distance_mm) const;

  double eps_;
  double thickness_mm_ = 0.0;
  double surroundings_mm_;
  std::vector<double> table_;  ///< of reflected(), by distance in kTableStep
  std::vector<double> far_;    ///< the same with the spot's own potential at a point
};

}  // namespace bareglass::field
