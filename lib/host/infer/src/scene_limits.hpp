#pragma once
// The limits by which kinds of things are told apart, with the physics they rest on. All shares are
// of the nominal finger unless stated; scene_kind_limits_test.cpp computes them anew on the
// simulated panel.

namespace bareglass::host::scene_limits {

// An isolated body of conductor covers its nodes (they fall by L, the full cover's loss) and
// couples every row to every column it spans: those crossings rise by about k A_r B_c / A, where
// A_r, B_c are its areas over one row and one column and A is all of it; k is 1.0 to 1.25 L (field
// solution). For a closed patch A_r B_c / A is at most 1 (rectangle) or 1.27 (disc): it rises by
// 0.05 to 0.6 of a finger in its middle and falls by 0.1 to 0.35 at its edge. A streak over n lines
// keeps 1 - 2 / n of the loss on itself: 0.5 to 0.9; an L raises its corner by more than a disc of
// 0.27 k above a rectangle's rise could.
constexpr double kStreakLowered = 0.42;
constexpr double kStreakOverPatch = 0.42;
// A streak over the diagonal of n lines fills 2 / n of its box, a disc 0.78.
constexpr double kThin = 0.45;
constexpr int kThinNodes = 8;
// A streak's lowered nodes go with raised ones; what is raised beside a grounded thing is its
// gain's error.
constexpr double kBothSigns = 0.08;
// Lines half a pitch beside the bezel's fluid show up to 0.42 of it (2 mm glass), a film two lines
// deep or more all of it.
constexpr double kBandDepth = 1.75;  ///< sum across the border over the border's own
constexpr double kBandLength_mm = 14.5;
// The largest fingertip, 11 mm, sums to 6 nodes of its peak; a film of 22 mm to 19.
constexpr double kFingerArea = 11.0;
// A large closed patch of conductor without ground raises a node by this share of a finger, where
// the finger is this share of the bare reading: field solution, 3.0, 2.0, 1.1 and 0.7 mm of glass.
constexpr double kFingerShare[] = {0.068, 0.102, 0.1535, 0.182};
constexpr double kPatch[] = {0.004, 0.020, 0.105, 0.240};
// A residue, moist or dry, is a layer of a fraction of a millimetre: a dielectric of 0.6 of that
// (200 um of permittivity 40, field solution); 300 um reach 0.65. Thicker water conducts.
constexpr double kMostDielectric = 0.63;
// Dry tape, paper and labels up to 500 um reach 0.14 of it on 0.7 and 1.1 mm of glass, 0.11 on 2
// mm.
constexpr double kMostDry = 0.15;
constexpr double kMostDryOrMore = 0.17;  ///< the same with what is left for error
constexpr double kStraight = 0.85;       ///< of its box filled: a rectangle along the lines
// A real panel is not smooth to better than this (common practice, no source).
constexpr double kUneven = 0.04;
constexpr double kMostUneven = 2.5;  ///< beyond that it is a thing that reaches so many nodes
// Drops of 6 to 11 mm are 1.2 to 2.2 lines wide: they keep half of their height over three lines at
// most, and two of them with bare glass between are 2.6 lines apart or more, strongest node to
// strongest node.
constexpr int kDropWidth = 3;        ///< lines
constexpr double kSpotsApart = 2.6;  ///< pitches
// An isolated body couples all of its rows to all of its columns: where the rows of one corner or
// lobe of a patch cross the columns of another, half of the lesser one's signal shows or more. Two
// bodies do nothing there. Two lines beside its strongest node a drop over a node shows less than a
// quarter of it, three lines beside any drop does.
constexpr int kCrossingApart = 2;   ///< lines between spots both ways; nearer ones tell nothing
constexpr double kCrossing = 0.25;  ///< of the lesser spot
// Of what drops do to the map, squared, so much is rise, on the glasses of kFingerShare: 0.57,
// 0.65, 0.89 and 0.96 at least on the simulated panel, less what noise takes. The rim of a larger
// disc falls by more: no disc with lobes like drops reaches the second row.
constexpr double kDropRises[] = {0.45, 0.63, 0.86, 0.94};
constexpr double kDropRisesClearly[] = {0.60, 0.67, 0.91, 0.965};
// Only in what rises this much beyond the limit of noise can be seen that the ground between is
// bare.
constexpr double kClearly = 3.0;
// Beside the spots lies nothing but their tails; the corners of a patch have its edges between
// them.
constexpr double kBesideDrops = 0.1;      ///< of the map's squares
constexpr double kBesideSeparate = 0.35;  ///< the same where crossings tell them apart, for noise
constexpr double kDropRim = 0.75;         ///< fall over rise; a larger disc reaches 0.9 on 3 mm
// What is grounded takes a good part of a finger, even a small fingertip between four nodes: 0.3.
// What only falls by less is the edge of a patch, if the glass is so thick that its rise is lost in
// the noise; else it is the skirt of a touch that lies on something broken.
constexpr double kLeastGrounded = 0.1;

}  // namespace bareglass::host::scene_limits
