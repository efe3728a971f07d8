#include "bareglass/core/single_frame.hpp"

#include "bareglass/core/arith.hpp"
#include "bareglass/core/conditioning.hpp"
#include "bareglass/core/electrical.hpp"

namespace bareglass {

namespace {

bool fits(const Memory& memory, Shape shape) {
  const auto nodes = static_cast<std::size_t>(shape.nodes());
  return memory.label.size >= nodes && memory.difference.size >= nodes &&
         memory.row_busy.size >= static_cast<std::size_t>(shape.rows) &&
         memory.sort.size >= static_cast<std::size_t>(shape.cols);
}

// Mean size of the quiet nodes, times sqrt(pi/2) = 1.2533, the ratio for normal noise.
std::int32_t quiet_sigma_q4(View<const std::int16_t> difference, std::int32_t quiet) {
  std::uint32_t sum = 0;
  std::uint32_t count = 0;
  for (const std::int16_t d : difference) {
    const std::int32_t size = abs_i32(d);
    if (size > quiet) continue;
    sum += static_cast<std::uint32_t>(size);
    ++count;
  }
  if (count == 0) return 0;
  return static_cast<std::int32_t>(divide_u64(static_cast<std::uint64_t>(sum) * 20053, count) /
                                   1000);  // 16 * 1.2533
}

}  // namespace

SettingsField SingleFrame::find(Memory memory, View<const std::int16_t> difference,
                                const Settings& settings, std::int32_t sigma_q4) {
  peaks.count = 0;
  regions.count = 0;
  const SettingsField wrong = validate(settings);
  if (wrong != SettingsField::none) return wrong;
  const Shape shape = settings.shape;
  if (!fits(memory, shape) || difference.size != static_cast<std::size_t>(shape.nodes()))
    return SettingsField::shape;
  const Limits limits = limits_of(settings);
  const std::int32_t sigma = sigma_q4 < 0 ? quiet_sigma_q4(difference, limits.quiet) : sigma_q4;
  limit = region_limit_for(limits.surface, sigma);
  const View<std::uint8_t> busy{memory.row_busy.data, static_cast<std::size_t>(shape.rows)};
  for (std::uint8_t& row : busy) row = 1;
  find_regions(regions, memory.label, difference, read_only(busy), shape, limit);
  mark_lone(regions, difference, shape, limit);
  mark_two_signed(regions);
  find_peaks(peaks, regions, read_only(memory.label), difference, settings, limits, sigma);
  return SettingsField::none;
}

SettingsField SingleFrame::find(Memory memory, View<const std::uint16_t> raw,
                                View<const std::uint16_t> bare, const Settings& settings,
                                std::int32_t sigma_q4) {
  peaks.count = 0;
  regions.count = 0;
  const SettingsField wrong = validate(settings);
  if (wrong != SettingsField::none) return wrong;
  const Shape shape = settings.shape;
  const auto nodes = static_cast<std::size_t>(shape.nodes());
  const auto cols = static_cast<std::size_t>(shape.cols);
  if (!fits(memory, shape) || raw.size != nodes || bare.size != nodes) return SettingsField::shape;
  const Limits limits = limits_of(settings);
  for (std::size_t at = 0; at < nodes; at += cols) {
    const View<std::int16_t> row{memory.difference.data + at, cols};
    for (std::size_t c = 0; c < cols; ++c) {
      const std::int32_t counts = raw[at + c];
      const bool saturated = counts <= settings.raw_low || counts >= settings.raw_high;
      const std::int32_t lost = saturated ? 0 : bare[at + c] - counts;
      row[c] = saturate_i16(settings.counts_rise ? -lost : lost);
    }
    RowOffset offset = row_offset(read_only(row), limits.quiet);
    if (!offset.valid)
      offset = swing_of_row(read_only(row), limits.quiet, limits.touch_off, memory.sort);
    CommonMode fresh;
    level_row(row, common_mode_step(fresh, offset));
  }
  return find(memory, View<const std::int16_t>{memory.difference.data, nodes}, settings, sigma_q4);
}

}  // namespace bareglass
