#pragma once
// What earthed round contacts read, so that one without a good way to earth stands out.

#include <array>

#include "contact_profile.hpp"

namespace bareglass::host {

/// Signals are shares of the panel's nominal finger, widths squared pitches. All numbers are those
/// of one glass; earthed_profile() knows which.
struct EarthedProfile {
  /// Of a fingertip, 6 to 13 mm across: volume = slope * (width - narrowest).
  double share = 0;      ///< nominal finger over bare reading
  double narrowest = 0;  ///< squared pitches
  double slope = 0;      ///< nominal fingers per squared pitch
  /// Share of that volume below which a contact has no good way to earth.
  double limit = 0;
  double greatest_volume = 0;  ///< of a contact without a good way to earth
  /// Of any contact from 2 mm on: its spread by its volume and its place between the lines. See
  /// spread_of for the terms.
  std::array<double, 13> spreads{};
  double widest = 0;  ///< no earthed contact spreads further than that by more

  /// Volume over that of an earthed fingertip of the same width; negative: wider than any finger,
  /// or its width is not known.
  double ratio_of(const ContactProfile& contact) const;
  /// Spread of an earthed contact of this volume whose centroid is at (x, y) pitches. Small ones
  /// share their signal among the lines around them, so it depends on where these run.
  double spread_of(double volume, double x, double y) const;
  /// Whether the contact spreads further, by more than three standard errors, than an earthed
  /// one of its volume at its place: a small fingertip or the tip of a pen is weak and narrow.
  /// `noise`: of one node, shares of a finger.
  bool is_too_wide(const ContactProfile& contact, double noise) const;
  /// Whether a fingertip on a device with 1 pF to earth or more can raise some nodes as much as it
  /// lowers others: on thin glass alone. Elsewhere it is a drop.
  bool allows_two_signs() const;
};

/// For a panel whose nominal finger takes `share` (0..1) of the bare reading. limit 0: no glass
/// lets a finger take that much, so sizes can't be trusted.
EarthedProfile earthed_profile(double share);

}  // namespace bareglass::host
