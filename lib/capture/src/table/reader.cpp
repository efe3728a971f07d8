// Frames out of a table whose layout is known.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <deque>
#include <limits>

#include "bareglass/plain/harmless.hpp"
#include "csv_lines.hpp"
#include "csv_text.hpp"
#include "frame_account.hpp"
#include "readers.hpp"
#include "table/folder.hpp"
#include "table/layout.hpp"

namespace bareglass::host {

namespace {

/// Enough to tell how a table is made; more is waited for only until there are some lines.
constexpr std::size_t kHeadBytes = 64 * 1024;
constexpr std::size_t kHeadLines = 40;
constexpr std::size_t kMostHeadBytes = 2 * 1024 * 1024;

std::string at_cell(std::uint64_t line, std::size_t column) {
  return fmt::format("{}, column {}", at_line(line), column + 1);
}

class TableReader final : public CaptureReader {
 public:
  TableReader(Buffer input, const std::string& name, const OpenOptions& options,
              TableBeneath beneath)
      : lines_(std::move(input)), name_(name), options_(options), beneath_(std::move(beneath)) {
    reading_.understood = beneath_.said;
    read_head();
    layout_ = study_table(reading_, head_, name_, options_);
    for (TableLine& line : head_.lines) waiting_.push_back(std::move(line));
    head_.lines.clear();
  }

  bool next(Record& out) override {
    if (!begun_) begin();
    if (!described_) return describe(out);
    if (next_note_ < notes_.size()) {
      out = notes_[next_note_++];
      return true;
    }
    auto* same = std::get_if<FrameRecord>(&out);
    FrameRecord& frame = same != nullptr ? *same : out.emplace<FrameRecord>();
    if (have_first_) {
      frame = first_;
      have_first_ = false;
    } else if (!read_frame(frame)) {
      return false;
    }
    account_.frame(stats_, frame, false);
    return true;
  }

  CaptureFormat format() const override { return CaptureFormat::table; }
  std::uint64_t bytes_read() const override {
    return beneath_.input ? beneath_.input->offset() : lines_.input().offset();
  }
  std::optional<std::uint64_t> bytes_total() const override {
    return beneath_.input ? beneath_.input->total() : lines_.input().total();
  }

 private:
  struct Problem {
    std::size_t column;
    std::string expected;
  };

  void read_head() {
    std::string_view text;
    std::size_t bytes = 0;
    while (bytes < kMostHeadBytes && (bytes < kHeadBytes || head_.lines.size() < kHeadLines)) {
      if (!lines_.peek(text)) {
        head_.whole = true;
        break;
      }
      if (lines_.overlong())
        throw CaptureError(
            name_, at_line(lines_.number()),
            fmt::format("expected a line of at most {} bytes", LineReader::kMostLineBytes));
      if (lines_.number() == 1 && text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
      head_.lines.push_back({lines_.number(), std::string(text)});
      bytes += text.size() + 1;
      lines_.consume();
    }
    head_.from_folder = beneath_.places != nullptr;
  }

  /// Takes the next line into `line_`.
  bool take_line() {
    if (!waiting_.empty()) {
      line_ = std::move(waiting_.front());
      waiting_.pop_front();
      return true;
    }
    std::string_view text;
    while (lines_.peek(text)) {
      line_.number = lines_.number();
      const bool whole = !lines_.overlong();
      line_.text = whole ? std::string(text) : std::string();
      lines_.consume();
      if (whole) return true;
      refuse_line(fmt::format("expected a line of at most {} bytes", LineReader::kMostLineBytes));
    }
    return false;
  }

  void begin() {
    begun_ = true;
    have_first_ = read_frame(first_);
    if (!have_first_)
      throw CaptureError(name_, "", "expected at least one whole frame in the table, found none");
    NoteRecord how{first_.t_us, "imported from a table of numbers"};
    for (const std::string& sentence : reading_.understood) how.text += "; " + sentence;
    how.text.resize(std::min<std::size_t>(how.text.size(), 4000));
    notes_.push_back(plain_note(std::move(how)));
    for (const std::string& text : layout_.notes) notes_.push_back(plain_note({first_.t_us, text}));
  }

  /// Bytes of the table that are no UTF-8 can't stand in a note.
  static NoteRecord plain_note(NoteRecord note) {
    note.text = plain::harmless(note.text);
    return note;
  }

  bool describe(Record& out) {
    PanelDescription panel;
    panel.rows = layout_.rows;
    panel.cols = layout_.cols;
    panel.counts_rise = layout_.counts_rise;
    panel.frame_period_us = layout_.frame_period_us;
    account_.description(panel);
    out = panel;
    described_ = true;
    return true;
  }

  bool read_frame(FrameRecord& frame) {
    while (take_line()) {
      const RowKind kind = line_.number == layout_.header_line
                               ? RowKind::words
                               : row_kind(cells_, line_.text, layout_.separator);
      if (kind == RowKind::data ? take_data(frame) : take_other(kind)) return true;
    }
    if (lines_of_block_ > 0) drop_block();
    return false;
  }

  /// Lines between the data: they end a block, and may tell its number and time.
  bool take_other(RowKind kind) {
    if (lines_of_block_ > 0) drop_block();
    labels_seen_ = false;
    const bool header = line_.number == layout_.header_line ||
                        trimmed(line_.text) == std::string_view(layout_.header);
    const bool expected =
        kind != RowKind::words || header || !any_data_ || layout_.headings || layout_.block;
    if (!expected) {
      refuse_line(fmt::format("{} is no line of this table, expected {} numbers",
                              quoted(trimmed(line_.text)), layout_.numbers_a_line()));
      return false;
    }
    if (kind == RowKind::blank) return false;
    const FrameHeading heading = frame_heading(line_.text);
    if (heading.number) heading_number_ = heading.number;
    if (heading.time) heading_time_ = heading.time;
    return false;
  }

  bool take_data(FrameRecord& frame) {
    any_data_ = true;
    if (layout_.labels_above && !labels_seen_ && lines_of_block_ == 0) {
      labels_seen_ = true;
      return false;
    }
    try {
      return take_numbers(frame);
    } catch (const Problem& problem) {
      ++next_sequence_;
      spoiled_ = layout_.block;
      lines_of_block_ += layout_.block ? 1 : 0;
      refuse(at_cell(line_.number, problem.column), problem.expected);
      end_of_spoiled();
      return false;
    }
  }

  /// The lines of a block with a bad one among them are left out together.
  void end_of_spoiled() {
    if (!spoiled_ || lines_of_block_ < layout_.lines_a_frame()) return;
    lines_of_block_ = 0;
    spoiled_ = labels_seen_ = false;
  }

  bool take_numbers(FrameRecord& frame) {
    expect_cells();
    if (layout_.row_cell && lines_of_block_ > 0 && begins_block()) drop_block();
    if (spoiled_) {
      ++lines_of_block_;
      end_of_spoiled();
      return false;
    }
    if (lines_of_block_ == 0) begin_frame(frame);
    const std::size_t along = layout_.numbers_a_line();
    for (std::size_t c = 0; c < layout_.node.size(); ++c)
      if (layout_.node[c] >= 0) put(frame, node_of(layout_.node[c], along), c);
    if (++lines_of_block_ < layout_.lines_a_frame()) return false;
    lines_of_block_ = 0;
    labels_seen_ = false;
    return true;
  }

  /// With a column that counts lines: it is back at its start.
  bool begins_block() {
    double now = 0;
    if (!number_in(cells_[*layout_.row_cell].text, {}, now)) return false;
    const bool begins = now <= row_before_;
    row_before_ = now;
    return begins;
  }

  std::size_t node_of(int place, std::size_t along) const {
    const auto i = static_cast<std::size_t>(place);
    if (!layout_.block) return i;
    return layout_.line_is_column ? i * static_cast<std::size_t>(layout_.cols) + lines_of_block_
                                  : lines_of_block_ * along + i;
  }

  void expect_cells() const {
    std::size_t n = cells_.size();
    while (n > 0 && cells_[n - 1].text.empty()) --n;
    if (n == layout_.cells) return;
    const std::size_t place = std::min(n, layout_.cells);
    throw Problem{
        place, fmt::format("expected {} cells as in the other lines, found {}", layout_.cells, n)};
  }

  void begin_frame(FrameRecord& frame) {
    const auto nodes =
        static_cast<std::size_t>(layout_.rows) * static_cast<std::size_t>(layout_.cols);
    if (layout_.row_cell) number_in(cells_[*layout_.row_cell].text, {}, row_before_);
    frame.kind = layout_.kind;
    frame.rows = layout_.rows;
    frame.cols = layout_.cols;
    frame.raw.assign(layout_.kind == FrameKind::raw ? nodes : 0, 0);
    frame.difference.assign(layout_.kind == FrameKind::raw ? 0 : nodes, 0);
    frame.sequence = sequence_now();
    frame.t_us = time_now(frame.sequence);
    next_sequence_ = frame.sequence + 1;
    heading_number_.reset();
    heading_time_.reset();
    any_frame_ = true;
  }

  std::uint32_t sequence_now() const {
    if (layout_.heading_numbers && heading_number_) return *heading_number_;
    if (!layout_.sequence_cell) return next_sequence_;
    const std::size_t c = *layout_.sequence_cell;
    double number = 0;
    if (!number_in(cells_[c].text, {}, number) || number < 0 || number > 4294967295.0 ||
        number != std::floor(number))
      throw Problem{c, fmt::format("{} is no count of frames, expected a whole number",
                                   quoted(cells_[c].text))};
    return static_cast<std::uint32_t>(number);
  }

  std::uint64_t time_now(std::uint32_t sequence) {
    std::int64_t us = 0;
    if (layout_.time_cell) {
      us = time_in_cell(*layout_.time_cell);
    } else if (layout_.heading_time != TimeForm::none) {
      if (!heading_time_)
        throw Problem{0, "expected a time in the line above the frame, as above the others"};
      us = whole_us(*heading_time_ * microseconds_in(layout_.heading_time), 0);
    } else {
      return std::uint64_t{sequence} * layout_.frame_period_us;
    }
    // A date counts from long ago; a trigger may lie behind the first frame.
    const bool shifted = layout_.time == TimeForm::stamp || layout_.time == TimeForm::clock;
    if (!any_frame_) shift_us_ = shifted || us < 0 ? us : 0;
    us -= shift_us_;
    if (us < 0) throw Problem{layout_.time_cell.value_or(0), "expected no time before the first"};
    return static_cast<std::uint64_t>(us);
  }

  std::int64_t time_in_cell(std::size_t c) {
    const std::string_view text = cells_[c].text;
    if (layout_.time == TimeForm::stamp || layout_.time == TimeForm::clock) return stamp_in_cell(c);
    NumberStyle style = layout_.style;
    style.base = 10;
    style.decimal_comma = text.find(',') != std::string_view::npos;
    double number = 0;
    if (!number_in(text, style, number))
      throw Problem{
          c, fmt::format("{} is no time, expected {}", quoted(text), time_words(layout_.time))};
    return whole_us(number * microseconds_in(layout_.time), c);
  }

  std::int64_t stamp_in_cell(std::size_t c) {
    const CellLook look = look_of(cells_[c], layout_.separator);
    const bool stamp = layout_.time == TimeForm::stamp;
    if (look != (stamp ? CellLook::stamp : CellLook::clock))
      throw Problem{c, fmt::format("{} is no time, expected {}", quoted(cells_[c].text),
                                   time_words(layout_.time))};
    std::int64_t us = stamp_us(cells_[c].text);
    if (stamp) return us;
    if (layout_.date_cell &&
        look_of(cells_[*layout_.date_cell], layout_.separator) == CellLook::date)
      return us + stamp_us(cells_[*layout_.date_cell].text);
    // Past midnight the time of day begins again.
    constexpr std::int64_t kDay = 86'400'000'000;
    if (any_frame_ && us + days_us_ + kDay / 2 < clock_before_) days_us_ += kDay;
    return clock_before_ = us + days_us_;
  }

  static std::int64_t whole_us(double us, std::size_t c) {
    constexpr double kMost = 4e18;
    if (!(std::abs(us) < kMost)) throw Problem{c, "expected a time below 100,000 years"};
    return std::llround(us);
  }

  void put(FrameRecord& frame, std::size_t node, std::size_t c) const {
    const std::string_view text = cells_[c].text;
    double value = 0;
    if (!number_in(text, layout_.style, value)) throw Problem{c, no_number(text)};
    if (layout_.scale) value = std::round(value * *layout_.scale);
    if (value != std::floor(value))
      throw Problem{c,
                    fmt::format("{} is no whole number of counts; --multiply 1 rounds, --multiply "
                                "1000 keeps three decimals{}",
                                quoted(text), thousands_hint(text))};
    if (layout_.negate) value = -value;
    const bool raw = layout_.kind == FrameKind::raw;
    const double least = raw ? 0 : std::numeric_limits<std::int16_t>::min();
    const double most = raw ? 65535 : std::numeric_limits<std::int16_t>::max();
    if (value < least || value > most)
      throw Problem{c, fmt::format("{} is beyond {} to {}; {}", quoted(text), least, most,
                                   raw && value < 0 ? "negative numbers are --values difference"
                                   : layout_.style.base == 16 && !options_.table.base
                                       ? "--base 10 reads decimal"
                                       : "--multiply 0.5 halves all readings")};
    if (raw)
      frame.raw[node] = static_cast<std::uint16_t>(value);
    else
      frame.difference[node] = static_cast<std::int16_t>(value);
  }

  std::string no_number(std::string_view text) const {
    if (text.empty()) return "is empty, expected a number; --skip-bad leaves such frames out";
    const bool hex = look_of({text, false}, layout_.separator) == CellLook::hex;
    return fmt::format("{} is no number; {}", quoted(text),
                       hex ? "--base 16 reads hexadecimal" : "--skip-bad leaves such frames out");
  }

  std::string thousands_hint(std::string_view text) const {
    if (text.find(',') != std::string_view::npos && layout_.style.thousands == '\0')
      return "; --thousands comma if the comma parts thousands";
    if (text.find('.') != std::string_view::npos && layout_.style.thousands == '\0')
      return "; --thousands point if the point parts thousands";
    return "";
  }

  void drop_block() {
    const std::size_t lines = lines_of_block_;
    lines_of_block_ = 0;
    labels_seen_ = false;
    if (spoiled_) {
      spoiled_ = false;
      return;
    }
    refuse(at_line(line_.number), fmt::format("the frame before ends after {} lines, expected {}",
                                              lines, layout_.lines_a_frame()));
  }

  void refuse_line(const std::string& expected) { refuse(at_line(line_.number), expected); }

  void refuse(const std::string& place, const std::string& expected) {
    if (!options_.lenient) fail(place, expected);
    ++stats_.malformed_lines;
    stats_.lost_bytes =
        std::min<std::uint64_t>(stats_.lost_bytes + line_.text.size() + 1, bytes_read());
    note_damage(stats_, {line_.number, true, expected});
  }

  /// In a folder, lines are counted in each file.
  [[noreturn]] void fail(const std::string& place, const std::string& expected) const {
    const std::string hint =
        expected.find("--") == std::string::npos ? "; --skip-bad leaves it out" : "";
    if (!beneath_.places) throw CaptureError(name_, place, expected + hint);
    const auto [file, line] = beneath_.places->of(line_.number);
    const std::size_t comma = place.find(',');
    throw CaptureError(file,
                       at_line(line) + (comma == std::string::npos ? "" : place.substr(comma)),
                       expected + hint);
  }

  LineReader lines_;
  std::string name_;
  OpenOptions options_;
  TableBeneath beneath_;
  TableHead head_;
  TableLayout layout_;
  std::deque<TableLine> waiting_;
  TableLine line_;
  std::vector<Cell> cells_;
  bool begun_ = false, described_ = false;
  std::vector<NoteRecord> notes_;
  std::size_t next_note_ = 0;
  FrameRecord first_;
  bool have_first_ = false;
  bool any_data_ = false, any_frame_ = false;
  std::size_t lines_of_block_ = 0;  ///< taken of the frame that is being read
  bool labels_seen_ = false;
  bool spoiled_ = false;
  double row_before_ = 0;
  std::uint32_t next_sequence_ = 0;
  std::optional<std::uint32_t> heading_number_;
  std::optional<double> heading_time_;
  std::int64_t shift_us_ = 0, days_us_ = 0, clock_before_ = 0;
  FrameAccount account_;
};

}  // namespace

std::unique_ptr<CaptureReader> make_table_reader(Buffer input, const std::string& name,
                                                 const OpenOptions& options, TableBeneath beneath) {
  return std::make_unique<TableReader>(std::move(input), name, options, std::move(beneath));
}

}  // namespace bareglass::host
