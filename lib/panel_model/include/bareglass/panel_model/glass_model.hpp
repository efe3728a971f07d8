#pragma once
// What things on the glass do to the nodes: conductors, films, and the way the device reaches
// earth. Every sign and size comes from the field solution.

#include <Eigen/Dense>
#include <limits>
#include <memory>
#include <string>
#include <vector>

#include "bareglass/field/panel_spec.hpp"
#include "bareglass/field/surface_model.hpp"
#include "bareglass/panel_model/outline.hpp"

namespace bareglass::panel {

/// Rows x columns, row-major as frames are.
using NodeMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

inline constexpr double kConnected = std::numeric_limits<double>::infinity();

/// Something dry and flat between the glass and a conductor: paper, tape, a glove.
struct Spacer {
  double thickness_um = 0.0;  ///< 0..5000; 0: the conductor lies on the glass
  double permittivity = 1.0;  ///< relative, 1..200
};

/// A conducting thing: finger, water, metal.
struct Conductor {
  OutlinePtr outline;
  field::Point place;      ///< mm; node (row, column) lies at x = column pitch * column, y = row...
  double earth_pf = 0.0;   ///< C_b to earth, >= 0: a person 100..200; kConnected: earthed
  double device_pf = 0.0;  ///< to the device's own ground, >= 0; kConnected: touches the bezel
  Spacer spacer;
};

/// A dielectric without free charge: tape, paper, alcohol.
struct Film {
  OutlinePtr outline;
  field::Point place;         ///< mm
  double thickness_um = 0.0;  ///< 0..5000
  double permittivity = 1.0;  ///< relative, 1..200
};

/// What the things do. Reused from frame to frame so that nothing is allocated.
struct GlassResponse {
  NodeMatrix change;    ///< of each node's mutual capacitance, fF
  Eigen::VectorXd hum;  ///< charge into each column per volt of earth against the device, fF
};

/// Kernels of a panel: from the file beside `panel_path` that has the same name and ends in
/// .kernels, if it belongs to this panel; else from the user's cache; else solved (about three
/// seconds) and kept there.
field::SurfaceKernels kernels_of(const field::PanelSpec& spec, const std::string& panel_path = {});

/// One panel's surface.
///
/// All conductors together form one network: every one of them a node with its own C_FF, C_b to an
/// earth node that they share, C_dev from there to the device's ground, and mutual capacitances
/// between neighbours. With K that network's matrix,
///   change = C_TF' K^-1 C_FR - loss      (one conductor: C_TF C_FR / (C_FF + C_b) - loss)
/// over all rows and columns, so ghosts and the retransmission between two fingers on a badly
/// earthed device come out by themselves.
///
/// Conductors that overlap are one conductor. Neglected, with sizes, in lib/panel_model/DESIGN.md.
class GlassModel {
 public:
  /// `kernels` belong to `spec`: see kernels_of().
  GlassModel(const field::PanelSpec& spec, field::SurfaceKernels kernels, field::LineRange lines);
  ~GlassModel();
  GlassModel(GlassModel&&) noexcept;

  /// `device_earth_pf`: C_dev, > 0; kConnected for an earthed device.
  void respond(GlassResponse& out, const std::vector<Conductor>& conductors,
               const std::vector<Film>& films, double device_earth_pf);

  /// Change of a node under `thickness_um` of a dielectric over the whole panel, fF. Solved on
  /// demand (about a second) at thicknesses a factor of 2 apart, linear between.
  double film_change(double thickness_um, double permittivity);

  const field::PanelSpec& spec() const;
  const field::PanelNumbers& numbers() const;
  field::LineRange lines() const;
  /// Change of the node under the middle of an 8 mm disc of `earth_pf` on an earthed device, fF.
  double finger_change(double earth_pf = kConnected);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// Part of a bare node's capacitance that an earthed 8 mm finger takes. `panel_path`: see
/// kernels_of().
double finger_share(const field::PanelSpec& spec, const std::string& panel_path);

}  // namespace bareglass::panel
