#pragma once
// What a fit leaves open of one of its things: a profile of the likelihood over the way to earth,
// its curvature over everything else.

#include <Eigen/Dense>
#include <vector>

#include "departure.hpp"
#include "fitted_piece.hpp"
#include "patch_check.hpp"

namespace bareglass::host {

/// How a thing may move: shifts, mm; stretches along x and y and a shear about its middle. A point
/// q goes to q + (p0 + p2 (qx - mx) + p4 (qy - my), p1 + p4 (qx - mx) + p3 (qy - my)).
inline constexpr int kMoves = 5;
using Moves = Eigen::Matrix<double, kMoves, 1>;

/// The best moves for one way to earth, and how well they are known.
struct ProfileAt {
  double to_earth_ff = 0;  ///< infinite: earthed; of a layer unused
  double cost = 0;         ///< natural logarithms of likelihood and prior, all else at its best
  Moves moves = Moves::Zero();
  Eigen::Matrix<double, kMoves, kMoves> covariance;  ///< of them, at this way to earth
  double amount = 0;                                 ///< of a layer, share of the full loss
  double amount_variance = 0;
};

struct PieceProfile {
  double x = 0, y = 0;        ///< middle that moves are about, mm in the block
  std::vector<ProfileAt> at;  ///< from isolated to earthed; of a layer one
  double least = 0;           ///< least cost
};

/// `model` and `patches` of the piece's block.
PieceProfile profile_of(const FittedPiece& piece, const infer::CellModel& model,
                        const infer::PatchCheck& patches);

/// Lowest and highest value of `value` + slope . moves that lose less than `budget`, natural
/// logarithms, against the best.
struct Range {
  double low = 0, high = 0;
};
Range range_of(const PieceProfile& profile, const Moves& slope, double budget);

}  // namespace bareglass::host
