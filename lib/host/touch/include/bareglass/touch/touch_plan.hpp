#pragma once
// What a touch test asks for: places to touch, lines to draw, and limits. The file format is
// described in lib/host/touch/PLAN.md.

#include <optional>
#include <string>
#include <vector>

#include "bareglass/core/settings.hpp"

namespace bareglass::host {

/// Millimetres from the top left corner of the touch area (the outer edge of row 0 and column 0,
/// half a pitch outside the centre of node 0): x to the right, y down.
struct PointMm {
  double x = 0.0;
  double y = 0.0;
};

struct TouchStep {
  enum class Kind { point, line };
  Kind kind = Kind::point;
  std::string name;
  PointMm from;        ///< the point, or where the line begins; a line may be drawn from either end
  PointMm to;          ///< where the line ends; a point's is `from`
  std::string prompt;  ///< what to show on the screen; may be empty
  /// Seconds from the start of the test between which the contact of this step begins; both or
  /// neither, and either every step has them or none.
  std::optional<double> from_s, until_s;
};

/// Common practice, no source: chosen so that a sound panel passes and one line out of order fails.
/// Jitter leaves room for a finger that rests just between two lines, where the reported place may
/// step from one side to the other.
struct TouchLimits {
  double accuracy_median_mm = 1.0;
  double accuracy_p95_mm = 1.5;
  double linearity_max_mm = 1.5;
  double linearity_rms_mm = 0.6;
  double jitter_rms_mm = 0.5;
  double coverage_percent = 100.0;  ///< at least, of the nodes that the plan leads over
  int dropped = 0;                  ///< contacts that broke off
  int extra = 0;                    ///< contacts that belong to no step
};

struct TouchPlan {
  std::string name;
  std::vector<TouchStep> steps;  ///< in the order in which they are to be done; 1..kMostSteps
  double reach_mm = 12.0;        ///< a contact belongs to a step if it begins this near, 1..100
  /// Hold lines against the line that fits the contact best (a hand does not follow a ruler) or
  /// against the intended line (a guide or a robot does).
  bool against_intended = false;
  TouchLimits limits;
  static constexpr std::size_t kMostSteps = 200;
};

/// Nine points, the four edges along the middle of the outer lines, two diagonals.
/// Precondition: `settings` has a shape and pitches.
TouchPlan default_touch_plan(const Settings& settings);

/// Throws CaptureError naming the file, the line and what was expected.
TouchPlan read_touch_plan(const std::string& path);

/// Throws CaptureError, naming `file` and the step, if a place lies outside the panel.
void expect_on_panel(const TouchPlan& plan, const Settings& settings, const std::string& file);

}  // namespace bareglass::host
