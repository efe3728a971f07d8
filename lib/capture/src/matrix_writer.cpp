// Formats that are nothing but frames of equal size: NumPy arrays and V4L2 touch frames.

#include <fmt/format.h>

#include "npy_head.hpp"
#include "writers.hpp"

namespace bareglass::host {

namespace {

class MatrixWriter final : public CaptureWriter {
 public:
  MatrixWriter(Output output, CaptureFormat format) : output_(std::move(output)), format_(format) {
    losses_.time_stamps = true;
    head_.type.bytes = format == CaptureFormat::td08 || format == CaptureFormat::tu08 ? 1 : 2;
    head_.type.is_signed = format == CaptureFormat::td16 || format == CaptureFormat::td08;
    if (is_npy() && !output_->is_regular())
      throw CaptureWriteError(output_->name(), "",
                              "npy needs a regular file, since its head counts the frames");
  }

  void write(const Record& record) override {
    std::visit([this](const auto& r) { put(r); }, record);
  }

  void finish() override {
    if (head_.frames == 0)
      throw CaptureWriteError(
          output_->name(), "",
          fmt::format("there is no frame of a kind that {} can hold", format_name(format_)));
    if (is_npy()) output_->rewrite_front(npy_head_text(head_));
    output_->finish();
  }

 private:
  bool is_npy() const { return format_ == CaptureFormat::npy; }

  void put(const PanelDescription&) { ++losses_.descriptions; }
  void put(const ReferenceRecord&) { ++losses_.references; }
  void put(const ContactsRecord&) { ++losses_.contacts; }
  void put(const JournalRecord&) { ++losses_.journal_entries; }
  void put(const SupplyRecord&) { ++losses_.supply_states; }
  void put(const NoteRecord&) { ++losses_.notes; }

  void put(const FrameRecord& frame) {
    const bool is_signed = frame.kind == FrameKind::difference;
    if (head_.frames == 0) {
      if (is_npy()) head_.type.is_signed = is_signed;
      head_.rows = frame.rows;
      head_.cols = frame.cols;
    }
    if (is_signed != head_.type.is_signed) {
      ++losses_.frames_other_kind;
      return;
    }
    if (frame.rows != head_.rows || frame.cols != head_.cols) {
      ++losses_.frames_other_shape;
      return;
    }
    if (head_.frames == 0 && is_npy()) output_->write(npy_head_text(head_));
    if (is_signed)
      put_values(frame.difference);
    else
      put_values(frame.raw);
    ++head_.frames;
  }

  template <typename T>
  void put_values(const std::vector<T>& values) {
    bytes_.clear();
    for (const T value : values) {
      if (head_.type.bytes == 1) check_byte(value);
      const auto bits = static_cast<std::uint16_t>(value);
      bytes_.push_back(static_cast<std::uint8_t>(bits & 255u));
      if (head_.type.bytes == 2) bytes_.push_back(static_cast<std::uint8_t>(bits >> 8));
    }
    output_->write(bytes_.data(), bytes_.size());
  }

  void check_byte(int value) const {
    const int least = head_.type.is_signed ? -128 : 0;
    const int most = head_.type.is_signed ? 127 : 255;
    if (value >= least && value <= most) return;
    throw CaptureWriteError(output_->name(), fmt::format("frame {}", head_.frames),
                            fmt::format("{} holds values from {} to {}, found {}",
                                        format_name(format_), least, most, value));
  }

  Output output_;
  CaptureFormat format_;
  NpyHead head_;
  std::vector<std::uint8_t> bytes_;
};

}  // namespace

std::unique_ptr<CaptureWriter> make_matrix_writer(Output output, CaptureFormat format) {
  return std::make_unique<MatrixWriter>(std::move(output), format);
}

}  // namespace bareglass::host
