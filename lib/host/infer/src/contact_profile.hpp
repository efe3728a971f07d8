#pragma once
// The strongest contact of an averaged map: its place, signal and width.

#include <vector>

#include "bareglass/core/types.hpp"

namespace bareglass::host {

/// Signals are shares of the panel's nominal finger, lengths pitches.
struct ContactProfile {
  /// The nodes looked at: this many to each side of (row, col).
  static constexpr int kReach = 2;

  int row = 0, col = 0;  ///< of the peak; of the middle, with two signs
  double x = 0, y = 0;   ///< centroid, from node (0, 0)
  double peak = 0;       ///< 0: no contact
  double volume = 0;     ///< sum over 5 x 5 nodes
  double width = 0;      ///< second moment about the centroid, squared pitches
  /// The same with no node counting more than one sqrt(3) pitches away: what lies further out is
  /// little of a small contact and much of the noise.
  double spread = 0;
  double spread_per_noise = 0;  ///< its standard error over that of one node in shares of a finger
  double raised_near = 0;       ///< greatest rise of the counts within the 5 x 5 nodes
  bool has_width = false;       ///< false: too little is left of its volume to tell
  bool two_signs = false;       ///< as small as a fingertip, raised and lowered within it
  bool alone = false;           ///< it fades out on all sides before anything else begins
};

/// `map`: counts, positive as a finger; `finger` > 0: counts; `noise`: standard deviation of one
/// node of the map, shares of a finger. peak 0 if there is no contact whose profile can be told.
ContactProfile strongest_contact(const std::vector<float>& map, Shape shape, double finger,
                                 double noise);

}  // namespace bareglass::host
