#pragma once
// The per-node work of every frame: difference, common mode, noise, tracking. Each function does
// one row, in loops without branches, so that compilers vectorise them and the cost per node is
// known. Row functions take matching runs of `cols` elements.

#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass {

/// Baselines are counts in Q8: 0..65535 plus a fraction that lets slow tracking move less than a
/// count per frame.
using BaselineQ8 = std::uint32_t;

/// difference = baseline - raw (raw - baseline if `counts_rise`), counts, saturated to ±32767.
void subtract_row(View<std::int16_t> difference, View<const BaselineQ8> baseline_q8,
                  View<const std::uint16_t> raw, bool counts_rise);

/// Mean of the untouched part of a row, counts. Only nodes with |difference| <= quiet vote;
/// with less than half of the row voting there is no estimate and `valid` is false.
struct RowOffset {
  std::int32_t counts = 0;
  bool valid = false;
};
RowOffset row_offset(View<const std::int16_t> difference, std::int32_t quiet);

/// Counts of a frame at or below `low` or at or above `high`, low < high.
std::int32_t outside_range(View<const std::uint16_t> raw, std::uint16_t low, std::uint16_t high);

/// What a scan did to a whole row at once. All nodes of a row are read in one conversion, so noise
/// from the supply or the display shifts them together. Only the fluctuation is removed: a lasting
/// offset of a row is a signal (a wet row, a failing line), so it stays in the difference.
struct CommonMode {
  std::int32_t slow_q8 = 0;  ///< lasting offset, counts Q8
};
/// Fluctuation of this frame, counts; updates the lasting part with lambda 1/64.
std::int32_t common_mode_step(CommonMode& state, RowOffset offset);

/// Added to a difference to store it unsigned beside the samples that share its array.
constexpr std::int32_t kPreviousOffset = 32768;

/// What one pass over a row found out, for the stages that follow.
struct RowExtremes {
  std::int16_t highest = 0;
  std::int16_t lowest = 0;
};

/// Removes `fluctuation` from the row and updates the noise: roughness is the running mean of the
/// absolute successive difference |d(t) - d(t-1)|, Q4 counts, lambda 1/32, updated where
/// |d| <= quiet. `previous` keeps d + kPreviousOffset. roughness / 1.128 estimates the standard
/// deviation (control-chart constant d2).
RowExtremes clean_row(View<std::int16_t> difference, View<std::uint16_t> previous,
                      View<std::uint16_t> roughness_q4, std::int32_t fluctuation,
                      std::int32_t quiet);

/// The same without touching the noise, for the frames in between (kRowTurns): removes
/// `fluctuation` only.
RowExtremes level_row(View<std::int16_t> difference, std::int32_t fluctuation);
/// Removes `fluctuation` and keeps the row in `previous`, for clean_row of the next frame.
RowExtremes keep_row(View<std::int16_t> difference, View<std::uint16_t> previous,
                     std::int32_t fluctuation);

/// Noise and tracking change slowly: each row has its turn every kRowTurns frames, which spares a
/// microcontroller half of its work. The turns of neighbouring rows differ, so the cost of a frame
/// is flat; tracking moves kRowTurns times as far at its turn.
constexpr int kRowTurns = 4;

/// Standard deviation in Q4 counts from a roughness in Q4 counts.
std::int32_t sigma_q4(std::uint16_t roughness_q4);

/// How the baseline follows: z += lambda * (raw - z), at most slew per frame, and not at all where
/// |difference| > quiet.
struct TrackRate {
  std::int32_t lambda_q16 = 0;  ///< 0..65536
  std::int32_t slew_q8 = 0;     ///< counts Q8 per frame
  std::int32_t quiet = 0;       ///< counts
  bool counts_rise = false;
};
void track_row(View<BaselineQ8> baseline_q8, View<const std::int16_t> difference,
               const TrackRate& rate);

/// The same, skipping every node that carries a label or has a labelled node among its 8
/// neighbours: a contact's skirt must not be taken into the baseline. `label` is the whole panel's;
/// rows with row_busy 0 carry no labels and are not read.
void track_row_around_regions(View<BaselineQ8> baseline_q8, View<const std::int16_t> difference,
                              View<const std::uint8_t> label, View<const std::uint8_t> row_busy,
                              Shape shape, int row, const TrackRate& rate);

}  // namespace bareglass
