#pragma once
// A thing's outline as the surface model wants it, and how two of them lie to each other.

#include "bareglass/field/surface_model.hpp"
#include "bareglass/panel_model/outline.hpp"

namespace bareglass::panel {

/// The box elsewhere.
field::Box moved(const field::Box& b, field::Point by);
/// Shortest way between two boxes, mm; 0 if they overlap.
double gap_of(const field::Box& a, const field::Box& b);

/// One outline at one height above the glass, cut into patches once.
class Body {
 public:
  Body(OutlinePtr outline, const field::SurfaceModel& model);
  /// Couplings at `place`. From the second time on about 40 us for a fingertip; grows with the
  /// square of the area, until the thing is too large for patches and is integrated over the
  /// kernels instead.
  field::Coupling couple(field::Point place, field::LineRange lines);
  /// To be called before couplings in company: see field::SurfaceModel::prepare.
  void prepare();

  const OutlinePtr& outline() const { return outline_; }
  const field::Box& box() const { return box_; }
  const field::PatchedObject& patches() const { return object_; }
  const field::SurfaceModel& model() const { return model_; }

 private:
  OutlinePtr outline_;
  const field::SurfaceModel& model_;
  field::PatchedObject object_;
  field::Box box_;
  bool coupled_ = false;  ///< before: a thing that is seen only once is not worth preparing
};

/// True if things at these places share ground or come within a patch of it. `gap_mm` is set to a
/// bound of their distance: never less than a patch below the true one.
bool overlap(const Body& a, field::Point at_a, const Body& b, field::Point at_b, double& gap_mm);
/// True if all of `inner` lies within `outer`.
bool contains(const Body& outer, field::Point at_outer, const Body& inner, field::Point at_inner);

}  // namespace bareglass::panel
