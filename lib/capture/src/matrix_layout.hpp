#pragma once
// Frames of equal size, one behind the other, and what is read of them.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "npy_head.hpp"
#include "readers.hpp"

namespace bareglass::host {

/// How the samples lie in the file, and what they are.
struct MatrixLayout {
  int rows = 0, cols = 0;
  SampleType type;
  FrameKind kind = FrameKind::raw;
  std::optional<std::uint64_t> frames;  ///< absent: as many as there are
  /// Elements from one frame, row, column to the next.
  std::size_t frame_step = 0, row_step = 0, col_step = 1;
  bool scattered = false;  ///< frames are not each together: the array is read as a whole
  bool negate = false, counts_rise = false;
  std::optional<double> scale;

  std::size_t nodes() const {
    return static_cast<std::size_t>(rows) * static_cast<std::size_t>(cols);
  }
  std::size_t frame_bytes() const { return nodes() * static_cast<std::size_t>(type.bytes); }
  /// 16 or 8 bits as they lie there, as nearly all captures are.
  bool plain() const {
    return !type.is_float && type.bytes <= 2 && !type.big_endian && !scattered && !negate &&
           !scale && col_step == 1;
  }
  std::size_t element(std::uint64_t frame, std::size_t node) const {
    const auto across = static_cast<std::size_t>(cols);
    return (scattered ? static_cast<std::size_t>(frame) * frame_step : 0) +
           node / across * row_step + node % across * col_step;
  }
};

std::unique_ptr<CaptureReader> make_matrix_reader(Buffer input, const std::string& name,
                                                  CaptureFormat format, const MatrixLayout& layout,
                                                  const OpenOptions& options, TableReading reading);

/// --scale and --touch, as far as they are given.
void apply_touch(MatrixLayout& layout, const OpenOptions& options);

/// Throws CaptureError unless a frame period is given.
void need_period(const OpenOptions& options, const std::string& name);

}  // namespace bareglass::host
