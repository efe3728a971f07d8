#pragma once
// The strongest contact of an averaged map: signal, width, and what an earthed contact of that
// width would read.

#include <vector>

#include "bareglass/core/types.hpp"

namespace bareglass::host {

/// Signals are shares of the panel's nominal finger, lengths pitches.
struct ContactProfile {
  int row = 0, col = 0;    ///< of the peak
  double x = 0, y = 0;     ///< centroid, from node (0, 0)
  double peak = 0;         ///< 0: no contact
  double volume = 0;       ///< sum over 5 x 5 nodes
  double width = 0;        ///< second moment about the centroid, squared pitches
  double raised_near = 0;  ///< greatest rise of the counts within the 5 x 5 nodes
  bool has_width = false;  ///< false: too little is left of its volume to tell
  bool two_signs = false;  ///< as small as a fingertip, raised and lowered within it
  bool alone = false;      ///< it fades out on all sides before anything else begins
};

/// Signal of an earthed round contact by its width: volume = slope * (width - narrowest).
struct EarthedProfile {
  double share = 0;      ///< nominal finger over bare reading
  double narrowest = 0;  ///< squared pitches
  double slope = 0;      ///< nominal fingers per squared pitch
  /// Share of that volume below which a contact has no good way to earth.
  double limit = 0;

  /// Volume over that of an earthed contact of the same width; negative: no finger is that narrow
  /// or that wide.
  double ratio_of(const ContactProfile& contact) const;
  /// Standard error of ratio_of from the noise of one node.
  double error_of(const ContactProfile& contact, double noise) const;
};

/// For a panel whose nominal finger takes `share` (0..1) of the bare reading. limit 0: no glass
/// lets a finger take that much, so sizes can't be trusted.
EarthedProfile earthed_profile(double share);

/// `map`: counts, positive as a finger; `finger` > 0: counts; `noise`: standard deviation of one
/// node of the map, shares of a finger. peak 0 if there is no contact whose profile can be told.
ContactProfile strongest_contact(const std::vector<float>& map, Shape shape, double finger,
                                 double noise);

}  // namespace bareglass::host
