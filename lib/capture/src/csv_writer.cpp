// Writes CSV captures: see FORMAT.md beside this file.

#include <fmt/format.h>

#include "csv_panel.hpp"
#include "csv_text.hpp"
#include "writers.hpp"

namespace bareglass::host {

namespace {

class CsvWriter final : public CaptureWriter {
 public:
  explicit CsvWriter(Output output) : output_(std::move(output)) {}

  void write(const Record& record) override {
    text_.clear();
    std::visit([this](const auto& r) { put(r); }, record);
    output_->write({text_.data(), text_.size()});
  }
  void finish() override { output_->finish(); }

 private:
  void put(const PanelDescription& panel) { describe(panel); }

  void put(const FrameRecord& frame) {
    adopt_shape(frame.rows, frame.cols);
    const bool raw = frame.kind == FrameKind::raw;
    if (!any_frame_ || frame.kind != kind_) line("values", raw ? "raw" : "difference");
    // A frame at the time of the one before would be read as its repetition.
    if (frame.sequence != next_sequence_ || (any_frame_ && frame.t_us == last_us_))
      line("sequence", fmt::to_string(frame.sequence));
    if (!any_frame_)
      put_header(static_cast<std::size_t>(frame.rows) * static_cast<std::size_t>(frame.cols));
    append("{}", frame.t_us);
    if (raw)
      for (const std::uint16_t value : frame.raw) append(",{}", value);
    else
      for (const std::int16_t value : frame.difference) append(",{}", value);
    append("\n");
    kind_ = frame.kind;
    next_sequence_ = frame.sequence + 1;
    last_us_ = frame.t_us;
    any_frame_ = true;
  }

  void put(const ReferenceRecord& reference) {
    adopt_shape(reference.rows, reference.cols);
    append("# reference:");
    for (const std::uint16_t value : reference.raw) append(" {}", value);
    append("\n");
  }
  void put(const ContactsRecord& contacts) { line("contacts", contacts_text(contacts)); }
  void put(const JournalRecord& entry) { line("journal", journal_text(entry)); }
  void put(const SupplyRecord& supply) { line("supply", supply_text(supply)); }
  void put(const NoteRecord& note) { line("note", note_text(note)); }

  void describe(const PanelDescription& panel) {
    append("{}", panel_lines(panel, panel_));
    panel_ = panel;
  }

  /// What follows is read with the shape last told.
  void adopt_shape(int rows, int cols) {
    if (panel_.rows == rows && panel_.cols == cols) return;
    PanelDescription panel = panel_;
    panel.rows = rows;
    panel.cols = cols;
    describe(panel);
  }

  void put_header(std::size_t values) {
    append("t_us");
    for (std::size_t i = 0; i < values; ++i) append(",v{}", i);
    append("\n");
  }

  void line(const char* key, const std::string& value) { append("# {}: {}\n", key, value); }

  template <typename... T>
  void append(fmt::format_string<T...> format, T&&... values) {
    fmt::format_to(fmt::appender(text_), format, std::forward<T>(values)...);
  }

  Output output_;
  fmt::memory_buffer text_;
  PanelDescription panel_;
  FrameKind kind_ = FrameKind::raw;
  std::uint32_t next_sequence_ = 0;
  std::uint64_t last_us_ = 0;
  bool any_frame_ = false;
};

}  // namespace

std::unique_ptr<CaptureWriter> make_csv_writer(Output output) {
  return std::make_unique<CsvWriter>(std::move(output));
}

}  // namespace bareglass::host
