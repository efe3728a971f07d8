#pragma once
// One object of a company of objects that are solved together.

#include <Eigen/Dense>
#include <vector>

#include "bareglass/field/surface_model.hpp"
#include "low_rank.hpp"

namespace bareglass::field {

/// One object of a company.
struct Member {
  PlacedObject placed;
  const SurfaceModel* model = nullptr;
  Box box;
  std::vector<Eigen::Index> live;     ///< patches that carry charge
  std::vector<Eigen::Index> changed;  ///< patches whose potential on themselves differs
  std::vector<float> softness;        ///< of each: 1 over what it gains; 0: it carries no charge

  Coupling block;          ///< the lines that feel it by itself
  Sources on;              ///< for them; what other members' cores make is taken off as well
  Eigen::MatrixXf thin;    ///< W
  Eigen::MatrixXf charge;  ///< S times columns, W and 1 V, side by side
  Eigen::Index first = 0;  ///< its first place in x

  auto column_charge() const { return charge.leftCols(on.column_volts.cols()); }
  auto thin_charge() const { return charge.middleCols(on.column_volts.cols(), thin.cols()); }
  auto unit_charge() const { return charge.rightCols(1); }
};

/// Middles of the squares that carry charge.
std::vector<Point> live_places(const Member& m);

/// Where two members touch, seen from either side; of two far apart just any two squares. Numbers
/// among the live squares.
std::vector<EntryPlace> contacts(const Member& a, const Member& b);

}  // namespace bareglass::field
