#pragma once
// Things on the glass told from averaged maps: weaker than any limit of the core, or made of parts
// that only a whole map joins.

#include <vector>

#include "bareglass/host/diagnosis.hpp"
#include "reading.hpp"

namespace bareglass::host {

/// What one averaged map shows, in shares of the panel's nominal finger.
struct SurfaceFeatures {
  double raised = 0;       ///< greatest rise of the counts (isolated conductor or dielectric)
  double lowered = 0;      ///< greatest fall
  double raised_mean = 0;  ///< mean over the raised nodes
  int raised_nodes = 0, lowered_nodes = 0;
  int blobs = 0;         ///< separate raised places
  int largest_blob = 0;  ///< nodes of the largest
  int lowered_blobs = 0;
  double filled = 0;        ///< raised nodes over the area of their box
  double lowered_mean = 0;  ///< mean over the lowered nodes
  Box box;                  ///< of all raised nodes
  Box lowered_box;
  double noise = 0;  ///< standard deviation of one node of the map
  std::uint64_t first_us = 0, last_us = 0;
};

/// The averaged map on which most is raised, against the reference, or against what changed within
/// the dump. raised_nodes 0: nothing stands out.
SurfaceFeatures survey_surface(const Reading& reading, const Account& account);

/// Whether what is raised in `box` passes slowly from full to (nearly) nothing.
bool is_fading(const Reading& reading, const Account& account, const Box& box);
/// Whether something changed its place by two lines or more while the panel set itself up.
bool is_moving_at_power_up(const Reading& reading, const Account& account);

}  // namespace bareglass::host
