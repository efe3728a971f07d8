// Formats that are nothing but frames of equal size: NumPy arrays and V4L2 touch frames.

#include <fmt/format.h>

#include <limits>
#include <stdexcept>

#include "frame_account.hpp"
#include "npy_head.hpp"
#include "readers.hpp"

namespace bareglass::host {

namespace {

/// How the samples lie in the file, and what they are.
struct MatrixLayout {
  int rows = 0, cols = 0;
  int bytes = 2;
  bool is_signed = false;
  FrameKind kind = FrameKind::raw;
  std::optional<std::uint64_t> frames;  ///< absent: as many as there are

  std::size_t nodes() const {
    return static_cast<std::size_t>(rows) * static_cast<std::size_t>(cols);
  }
  std::size_t frame_bytes() const { return nodes() * static_cast<std::size_t>(bytes); }
};

int sample_at(const std::uint8_t* bytes, std::size_t i, const MatrixLayout& layout) {
  if (layout.bytes == 1)
    return layout.is_signed ? static_cast<std::int8_t>(bytes[i]) : int{bytes[i]};
  const int value = bytes[2 * i] | bytes[2 * i + 1] << 8;
  return layout.is_signed ? static_cast<std::int16_t>(value) : value;
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

class MatrixReader final : public CaptureReader {
 public:
  MatrixReader(Buffer input, const std::string& name, CaptureFormat format,
               const MatrixLayout& layout, const OpenOptions& options)
      : input_(std::move(input)),
        name_(name),
        format_(format),
        layout_(layout),
        lenient_(options.lenient),
        period_us_(options.frame_period_us) {}

  bool next(Record& out) override {
    if (!described_) return describe(out);
    if (layout_.frames && frame_ == *layout_.frames) return end_of_array();
    if (!input_->fill_to(layout_.frame_bytes())) return end_of_file();
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
    const std::size_t fitting = layout_.kind == FrameKind::raw
                                    ? convert(frame.raw, input_->data(), layout_)
                                    : convert(frame.difference, input_->data(), layout_);
    if (fitting != layout_.nodes())
      fail(fitting * static_cast<std::size_t>(layout_.bytes),
           fmt::format("frame {}: {} is no {}", frame_, sample_at(input_->data(), fitting, layout_),
                       layout_.kind == FrameKind::raw ? "raw count (0 to 65535)"
                                                      : "difference (-32768 to 32767)"));
    input_->consume(layout_.frame_bytes());
    ++frame_;
    account_.frame(stats_, frame, false);
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

void need_period(const OpenOptions& options, const std::string& name) {
  if (options.frame_period_us == 0)
    throw CaptureError(
        name, "", "holds no time stamps, expected --frame-period, for instance --frame-period 8ms");
}

MatrixLayout touch_layout(CaptureFormat format, const OpenOptions& options) {
  MatrixLayout layout;
  layout.rows = options.rows;
  layout.cols = options.cols;
  layout.is_signed = format == CaptureFormat::td16 || format == CaptureFormat::td08;
  layout.bytes = format == CaptureFormat::td08 || format == CaptureFormat::tu08 ? 1 : 2;
  layout.kind = layout.is_signed ? FrameKind::difference : FrameKind::raw;
  return layout;
}

NpyHead read_npy_head(InputBuffer& input, const std::string& name) {
  const std::size_t size =
      input.fill_to(kNpyPreambleBytes) ? npy_head_bytes(input.data()) : std::size_t{0};
  if (size < kNpyPreambleBytes || !input.fill_to(size))
    throw CaptureError(name, at_byte(0),
                       "expected a whole .npy head of version 1, 2 or 3, at most 64 KiB");
  const std::size_t offset = npy_dictionary_offset(input.data());
  try {
    const NpyHead head =
        parse_npy_dictionary({reinterpret_cast<const char*>(input.data()) + offset, size - offset});
    input.consume(size);
    return head;
  } catch (const std::runtime_error& problem) {
    throw CaptureError(name, at_byte(offset), problem.what());
  }
}

void check_asked(const NpyHead& head, const std::string& name, const OpenOptions& options) {
  if ((options.rows != 0 && options.rows != head.rows) ||
      (options.cols != 0 && options.cols != head.cols))
    throw CaptureError(
        name, at_byte(0),
        fmt::format("expected the rows and columns asked for, but the array has {} and {}",
                    head.rows, head.cols));
}

}  // namespace

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
                    layout.is_signed ? "differences" : "raw counts"));
  const auto total = input->total();
  if (total && *total % layout.frame_bytes() != 0 && !options.lenient)
    throw CaptureError(
        name, at_byte(*total - *total % layout.frame_bytes()),
        fmt::format("expected a whole number of frames of {} x {} ({} bytes), not {} bytes",
                    layout.rows, layout.cols, layout.frame_bytes(), *total));
  return std::make_unique<MatrixReader>(std::move(input), name, format, layout, options);
}

std::unique_ptr<CaptureReader> make_npy_reader(Buffer input, const std::string& name,
                                               const OpenOptions& options) {
  const NpyHead head = read_npy_head(*input, name);
  check_asked(head, name, options);
  need_period(options, name);
  MatrixLayout layout;
  layout.rows = head.rows;
  layout.cols = head.cols;
  layout.bytes = head.bytes;
  layout.is_signed = head.is_signed;
  layout.kind = options.values.value_or(head.is_signed ? FrameKind::difference : FrameKind::raw);
  layout.frames = head.frames;
  return std::make_unique<MatrixReader>(std::move(input), name, CaptureFormat::npy, layout,
                                        options);
}

}  // namespace bareglass::host
