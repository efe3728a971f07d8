#pragma once
// What the frames themselves say, beside the core's findings: averaged maps and line levels, kept
// in bounded memory while a dump is replayed.

#include <cstdint>
#include <vector>

#include "bareglass/core/types.hpp"

namespace bareglass::host {

/// Raw readings over about a quarter of a second.
struct SurveyWindow {
  std::uint64_t first_us = 0, last_us = 0;
  int frames = 0;
  bool spoiled = false;      ///< of frames that the core refused
  std::vector<float> mean;   ///< counts, row-major
  std::vector<float> noise;  ///< counts: rms of successive differences over sqrt(2), row-major
  /// Swing that all columns of a row share from frame to frame, rms over the rows, counts: by the
  /// covariance between quarters of the row, so that white noise adds nothing.
  float row_swing = 0;
};

/// Steps of one line from one frame to the next that no thing on the glass can make: all four
/// quarters of the line move the same way by more than kStepShare.
struct LineSteps {
  std::uint32_t down = 0, up = 0;
  /// Smaller ones, which stand out of what lines do from frame to frame and which the lines beside
  /// it don't make: a thing along a line reaches those as well.
  std::uint32_t faintly_down = 0, faintly_up = 0;
  std::uint64_t first_us = 0, last_us = 0;
};

struct Survey {
  static constexpr std::size_t kMaxWindows = 96;  ///< then each two become one
  static constexpr double kWindow_s = 0.24;
  /// A whole line fully covered by a grounded film falls by up to 18.2 % (field solution, 0.7 mm
  /// glass), from one frame to the next if it is put down at once; an open neighbour row raises a
  /// row by 8 %.
  static constexpr float kStepShare = 0.2f;

  Shape shape;
  std::vector<SurveyWindow> windows;  ///< of the frames that the core took
  /// Of those that it refused as saturated: they tell when the panel was blind, and nothing else.
  std::vector<SurveyWindow> spoiled;
  std::vector<LineSteps> rows, columns;
  std::uint32_t unsettled = 0;  ///< frames left out after power-ups until the level stood still
  std::vector<std::uint16_t> reference;  ///< counts; empty: none
};

}  // namespace bareglass::host
