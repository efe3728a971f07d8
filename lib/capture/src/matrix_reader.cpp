// Formats that are nothing but frames of equal size: V4L2 touch frames, and arrays as
// npy_reader.cpp lays them out.

#include <fmt/format.h>

#include <cmath>
#include <limits>

#include "frame_account.hpp"
#include "matrix_layout.hpp"

namespace bareglass::host {

namespace {

int sample_at(const std::uint8_t* bytes, std::size_t i, const MatrixLayout& layout) {
  if (layout.type.bytes == 1)
    return layout.type.is_signed ? static_cast<std::int8_t>(bytes[i]) : int{bytes[i]};
  const int value = bytes[2 * i] | bytes[2 * i + 1] << 8;
  return layout.type.is_signed ? static_cast<std::int16_t>(value) : value;
}

/// Index of the first sample that T can't hold, or the count of samples.
template <typename T>
std::size_t convert(std::vector<T>& out, const std::uint8_t* bytes, const MatrixLayout& layout) {
  out.resize(layout.nodes());
  for (std::size_t i = 0; i < out.size(); ++i) {
    const int value = sample_at(bytes, i, layout);
    if (value < std::numeric_limits<T>::min() || value > std::numeric_limits<T>::max()) return i;
    out[i] = static_cast<T>(value);
  }
  return out.size();
}

/// The same of any type and order.
template <typename T>
std::size_t convert_any(std::vector<T>& out, const std::uint8_t* bytes, std::uint64_t frame,
                        const MatrixLayout& layout) {
  out.resize(layout.nodes());
  for (std::size_t i = 0; i < out.size(); ++i) {
    double value =
        sample_in(bytes + layout.element(frame, i) * static_cast<std::size_t>(layout.type.bytes),
                  layout.type);
    if (layout.scale) value = std::round(value * *layout.scale);
    if (layout.negate) value = -value;
    // False for NaN, too.
    if (!(value >= std::numeric_limits<T>::min() && value <= std::numeric_limits<T>::max() &&
          value == std::floor(value)))
      return i;
    out[i] = static_cast<T>(value);
  }
  return out.size();
}

class MatrixReader final : public CaptureReader {
 public:
  MatrixReader(Buffer input, const std::string& name, CaptureFormat format,
               const MatrixLayout& layout, const OpenOptions& options, TableReading reading)
      : input_(std::move(input)),
        name_(name),
        format_(format),
        layout_(layout),
        lenient_(options.lenient),
        period_us_(options.frame_period_us) {
    reading_ = std::move(reading);
  }

  bool next(Record& out) override {
    if (!described_) return describe(out);
    if (layout_.frames && frame_ == *layout_.frames) return end_of_array();
    const bool whole = layout_.scattered ? input_->fill_to(layout_.frame_bytes() * *layout_.frames)
                                         : input_->fill_to(layout_.frame_bytes());
    if (!whole) return end_of_file();
    auto* same = std::get_if<FrameRecord>(&out);
    take_frame(same != nullptr ? *same : out.emplace<FrameRecord>());
    return true;
  }

  CaptureFormat format() const override { return format_; }
  std::uint64_t bytes_read() const override { return input_->offset(); }
  std::optional<std::uint64_t> bytes_total() const override { return input_->total(); }

 private:
  bool describe(Record& out) {
    PanelDescription panel;
    panel.rows = layout_.rows;
    panel.cols = layout_.cols;
    panel.frame_period_us = period_us_;
    panel.counts_rise = layout_.counts_rise;
    account_.description(panel);
    out = panel;
    described_ = true;
    return true;
  }

  void take_frame(FrameRecord& frame) {
    frame.kind = layout_.kind;
    frame.sequence = static_cast<std::uint32_t>(frame_);
    frame.t_us = frame_ * period_us_;
    frame.rows = layout_.rows;
    frame.cols = layout_.cols;
    frame.raw.clear();
    frame.difference.clear();
    const std::size_t fitting =
        layout_.kind == FrameKind::raw ? fill(frame.raw) : fill(frame.difference);
    if (fitting != layout_.nodes()) refuse_sample(fitting);
    const bool last = layout_.frames && frame_ + 1 == *layout_.frames;
    if (!layout_.scattered) input_->consume(layout_.frame_bytes());
    if (layout_.scattered && last) input_->consume(layout_.frame_bytes() * *layout_.frames);
    ++frame_;
    account_.frame(stats_, frame, false);
  }

  template <typename T>
  std::size_t fill(std::vector<T>& values) const {
    return layout_.plain() ? convert(values, input_->data(), layout_)
                           : convert_any(values, input_->data(), frame_, layout_);
  }

  [[noreturn]] void refuse_sample(std::size_t node) const {
    const std::size_t at =
        layout_.element(frame_, node) * static_cast<std::size_t>(layout_.type.bytes);
    const double value = sample_in(input_->data() + at, layout_.type);
    fail(at, fmt::format("frame {}: {} is no {}{}", frame_, value,
                         layout_.kind == FrameKind::raw ? "raw count (0 to 65535)"
                                                        : "difference (-32768 to 32767)",
                         value != std::floor(value)
                             ? "; --multiply 1 rounds, --multiply 1000 keeps three decimals"
                         : layout_.kind == FrameKind::raw && value < 0
                             ? "; negative numbers are --values difference"
                             : ""));
  }

  bool end_of_array() {
    if (input_->size() > 0 || input_->fill())
      incomplete(fmt::format("expected the end after {} frames, found more bytes", frame_));
    return false;
  }

  bool end_of_file() {
    const bool short_array = layout_.frames && frame_ < *layout_.frames;
    if (input_->size() > 0 || short_array)
      incomplete(fmt::format("the file ends {} bytes into frame {}, expected {} bytes a frame{}",
                             input_->size(), frame_, layout_.frame_bytes(),
                             short_array ? fmt::format(" and {} frames", *layout_.frames) : ""));
    return false;
  }

  void incomplete(const std::string& expected) {
    if (!lenient_) fail(0, expected);
    note_damage(stats_, {input_->offset(), false, expected});
    do {
      stats_.lost_bytes += input_->size();
      input_->consume(input_->size());
    } while (input_->fill());
  }

  [[noreturn]] void fail(std::size_t ahead, const std::string& expected) const {
    throw CaptureError(name_, at_byte(input_->offset() + ahead), expected);
  }

  Buffer input_;
  std::string name_;
  CaptureFormat format_;
  MatrixLayout layout_;
  bool lenient_;
  std::uint32_t period_us_;
  bool described_ = false;
  std::uint64_t frame_ = 0;
  FrameAccount account_;
};

MatrixLayout touch_layout(CaptureFormat format, const OpenOptions& options) {
  MatrixLayout layout;
  layout.rows = options.rows;
  layout.cols = options.cols;
  layout.type.is_signed = format == CaptureFormat::td16 || format == CaptureFormat::td08;
  layout.type.bytes = format == CaptureFormat::td08 || format == CaptureFormat::tu08 ? 1 : 2;
  layout.kind = layout.type.is_signed ? FrameKind::difference : FrameKind::raw;
  layout.row_step = static_cast<std::size_t>(layout.cols);
  apply_touch(layout, options);
  return layout;
}

}  // namespace

void apply_touch(MatrixLayout& layout, const OpenOptions& options) {
  layout.scale = options.table.scale;
  if (!options.table.touch_raises) return;
  if (layout.kind == FrameKind::raw)
    layout.counts_rise = *options.table.touch_raises;
  else
    layout.negate = !*options.table.touch_raises;
}

void need_period(const OpenOptions& options, const std::string& name) {
  if (options.frame_period_us == 0)
    throw CaptureError(
        name, "", "holds no time stamps, expected --frame-period, for instance --frame-period 8ms");
}

std::unique_ptr<CaptureReader> make_matrix_reader(Buffer input, const std::string& name,
                                                  CaptureFormat format, const MatrixLayout& layout,
                                                  const OpenOptions& options,
                                                  TableReading reading) {
  return std::make_unique<MatrixReader>(std::move(input), name, format, layout, options,
                                        std::move(reading));
}

std::unique_ptr<CaptureReader> make_touch_reader(Buffer input, const std::string& name,
                                                 CaptureFormat format, const OpenOptions& options) {
  if (options.rows < 1 || options.cols < 1)
    throw CaptureError(name, "",
                       fmt::format("{} says nothing of the panel, expected --rows and --columns",
                                   format_name(format)));
  need_period(options, name);
  const MatrixLayout layout = touch_layout(format, options);
  if (options.values && *options.values != layout.kind)
    throw CaptureError(
        name, "",
        fmt::format("expected the values asked for, but {} holds {}", format_name(format),
                    layout.type.is_signed ? "differences" : "raw counts"));
  const auto total = input->total();
  if (total && *total % layout.frame_bytes() != 0 && !options.lenient)
    throw CaptureError(
        name, at_byte(*total - *total % layout.frame_bytes()),
        fmt::format("expected a whole number of frames of {} x {} ({} bytes), not {} bytes",
                    layout.rows, layout.cols, layout.frame_bytes(), *total));
  return make_matrix_reader(std::move(input), name, format, layout, options, {});
}

}  // namespace bareglass::host
