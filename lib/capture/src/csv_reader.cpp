// CSV captures: see FORMAT.md beside this file.

#include <fmt/format.h>

#include "bareglass/capture/damage_note.hpp"
#include "csv_lines.hpp"
#include "csv_numbers.hpp"
#include "csv_panel.hpp"
#include "csv_text.hpp"
#include "frame_account.hpp"

namespace bareglass::host {

namespace {

enum class LineKind { blank, comment, panel_key, frame_key, record_key, unknown_key, frame };

struct Line {
  LineKind kind = LineKind::blank;
  std::string_view key;
  std::string_view value;  ///< after the key; the whole line for a frame
};

bool is_key(std::string_view text) {
  for (const char c : text)
    if (!((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_')) return false;
  return !text.empty();
}

LineKind kind_of_key(std::string_view key) {
  if (is_panel_key(key)) return LineKind::panel_key;
  if (key == "values" || key == "sequence") return LineKind::frame_key;
  for (const char* name : {"reference", "contacts", "journal", "supply", "note"})
    if (key == name) return LineKind::record_key;
  return LineKind::unknown_key;
}

Line split_line(std::string_view text) {
  text = trimmed(text);
  if (text.empty() || text.substr(0, 4) == "t_us") return {};
  if (text.front() != '#') return {LineKind::frame, {}, text};
  text = trimmed(text.substr(1));
  const std::size_t colon = text.find(':');
  if (colon == std::string_view::npos || !is_key(text.substr(0, colon)))
    return {LineKind::comment, {}, {}};
  const std::string_view key = text.substr(0, colon);
  return {kind_of_key(key), key, trimmed(text.substr(colon + 1))};
}

class CsvReader final : public CaptureReader {
 public:
  CsvReader(Buffer input, const std::string& name, const OpenOptions& options)
      : lines_(std::move(input)), name_(name), options_(options), values_(options.values) {
    panel_.rows = options.rows;
    panel_.cols = options.cols;
    panel_.frame_period_us = options.frame_period_us;
  }

  bool next(Record& out) override {
    std::string_view text;
    while (lines_.peek(text)) {
      const Line line = split_line(without_mark(text));
      const bool gives_record = line.kind == LineKind::record_key || line.kind == LineKind::frame;
      if (gives_record && changed_ && shape_known())
        return give_description(out);  // the line stays
      const bool given = lines_.overlong() ? skip_overlong() : take_or_skip(out, line);
      lines_.consume();
      if (given) return true;
    }
    return shape_known() && touched_ && changed_ && give_description(out);
  }

  CaptureFormat format() const override { return CaptureFormat::csv; }
  std::uint64_t bytes_read() const override { return lines_.input().offset(); }
  std::optional<std::uint64_t> bytes_total() const override { return lines_.input().total(); }

 private:
  /// Text files may begin with a byte order mark.
  std::string_view without_mark(std::string_view text) const {
    const bool mark = lines_.number() == 1 && text.substr(0, 3) == "\xEF\xBB\xBF";
    return mark ? text.substr(3) : text;
  }

  /// A note or a supply state may stand before the lines that tell rows and columns.
  bool shape_known() const { return panel_.rows > 0 && panel_.cols > 0; }

  bool give_description(Record& out) {
    out = panel_;
    account_.description(panel_);
    changed_ = false;
    return true;
  }

  bool take_or_skip(Record& out, const Line& line) {
    try {
      return take(out, line);
    } catch (const LineProblem& problem) {
      // A frame was there, though unreadable: its number is used up.
      if (line.kind == LineKind::frame) ++next_sequence_;
      return skip(problem.what());
    }
  }

  bool skip_overlong() {
    return skip(fmt::format("expected a line of at most {} bytes", LineReader::kMostLineBytes));
  }

  bool skip(const std::string& expected) {
    if (!options_.lenient) fail(expected);
    ++stats_.malformed_lines;
    stats_.lost_bytes += lines_.size_with_end();
    note_damage(stats_, {lines_.number(), true, expected});
    return false;
  }

  [[noreturn]] void fail(const std::string& expected) const {
    throw CaptureError(name_, at_line(lines_.number()), expected);
  }

  bool take(Record& out, const Line& line) {
    switch (line.kind) {
      case LineKind::blank:
      case LineKind::comment:
        return false;
      case LineKind::unknown_key:
        ++stats_.unknown_keys;
        return false;
      case LineKind::panel_key:
        take_panel(line);
        return false;
      case LineKind::frame_key:
        take_frame_key(line);
        return false;
      case LineKind::record_key:
        take_record(out, line);
        return true;
      case LineKind::frame:
        take_frame(out, line.value);
        return true;
    }
    return false;
  }

  void take_panel(const Line& line) {
    take_panel_key(panel_, line.key, line.value);
    changed_ = touched_ = true;
    if (options_.rows != 0 && panel_.rows != options_.rows)
      fail(fmt::format("expected {} rows as asked for, but the file has {}", options_.rows,
                       panel_.rows));
    if (options_.cols != 0 && panel_.cols != options_.cols)
      fail(fmt::format("expected {} columns as asked for, but the file has {}", options_.cols,
                       panel_.cols));
    if (options_.frame_period_us != 0) panel_.frame_period_us = options_.frame_period_us;
  }

  void take_frame_key(const Line& line) {
    if (line.key == "sequence") {
      next_sequence_ =
          static_cast<std::uint32_t>(integer_in(line.value, 0, UINT32_MAX, "sequence"));
      sequence_told_ = true;
      return;
    }
    if (line.value != "raw" && line.value != "difference")
      throw LineProblem(
          fmt::format("values is {}, expected raw or difference", quoted(line.value)));
    const FrameKind kind = line.value == "raw" ? FrameKind::raw : FrameKind::difference;
    if (options_.values && *options_.values != kind)
      fail(fmt::format("expected the values asked for, but the file has {} values", line.value));
    values_ = kind;
  }

  void take_record(Record& out, const Line& line) {
    if (line.key == "reference")
      out = reference_in(line.value);
    else if (line.key == "contacts")
      out = contacts_in(line.value);
    else if (line.key == "journal")
      out = journal_in(line.value);
    else if (line.key == "supply")
      out = supply_in(line.value);
    else
      out = note_in(line.value);
    if (const auto* note = std::get_if<NoteRecord>(&out)) take_damage_note(stats_, *note);
  }

  std::size_t nodes() const {
    if (!shape_known())
      fail("expected lines '# rows: N' and '# cols: N' before; or give --rows and --columns");
    return static_cast<std::size_t>(panel_.rows) * static_cast<std::size_t>(panel_.cols);
  }

  ReferenceRecord reference_in(std::string_view text) const {
    ReferenceRecord reference;
    reference.rows = panel_.rows;
    reference.cols = panel_.cols;
    Numbers numbers(text, ' ');
    read_values(reference.raw, numbers, nodes());
    return reference;
  }

  void take_frame(Record& out, std::string_view text) {
    if (!values_)
      fail("expected a line '# values: raw' or '# values: difference' before; or give --values");
    const std::size_t expected = nodes();
    const std::size_t comma = text.find(',');
    auto* same = std::get_if<FrameRecord>(&out);
    FrameRecord& frame = same != nullptr ? *same : out.emplace<FrameRecord>();
    frame.kind = *values_;
    frame.rows = panel_.rows;
    frame.cols = panel_.cols;
    frame.t_us = time_in(text.substr(0, comma), "time stamp");
    frame.raw.clear();
    frame.difference.clear();
    if (comma == std::string_view::npos)
      throw LineProblem(fmt::format("expected {} values, found 0", expected));
    Numbers numbers(text.substr(comma + 1), ',');
    if (frame.kind == FrameKind::raw)
      read_values(frame.raw, numbers, expected);
    else
      read_values(frame.difference, numbers, expected);
    number_frame(frame);
  }

  /// A line that repeats the one before is the same scan once more.
  void number_frame(FrameRecord& frame) {
    const bool same = any_frame_ && frame.t_us == previous_.t_us && frame.kind == previous_.kind &&
                      frame.raw == previous_.raw && frame.difference == previous_.difference;
    frame.sequence = same && !sequence_told_ ? previous_.sequence : next_sequence_;
    next_sequence_ = frame.sequence + 1;
    sequence_told_ = false;
    account_.frame(stats_, frame, same);
    previous_ = frame;
    any_frame_ = true;
  }

  LineReader lines_;
  std::string name_;
  OpenOptions options_;
  std::optional<FrameKind> values_;
  PanelDescription panel_;
  bool changed_ = true;   ///< the description is to be given before the next record
  bool touched_ = false;  ///< the file itself says something of the panel
  std::uint32_t next_sequence_ = 0;
  bool sequence_told_ = false;
  bool any_frame_ = false;
  FrameRecord previous_;
  FrameAccount account_;
};

}  // namespace

std::unique_ptr<CaptureReader> make_csv_reader(Buffer input, const std::string& name,
                                               const OpenOptions& options) {
  return std::make_unique<CsvReader>(std::move(input), name, options);
}

}  // namespace bareglass::host
