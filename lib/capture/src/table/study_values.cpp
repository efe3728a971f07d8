// What the numbers are: style, raw or difference, sign, times.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "csv_text.hpp"
#include "readers.hpp"
#include "table/study.hpp"

namespace bareglass::host {

namespace {

TimeForm form_of(TimeUnit unit) {
  switch (unit) {
    case TimeUnit::microseconds:
      return TimeForm::microseconds;
    case TimeUnit::milliseconds:
      return TimeForm::milliseconds;
    case TimeUnit::seconds:
      return TimeForm::seconds;
    case TimeUnit::frames:
      return TimeForm::frames;
  }
  return TimeForm::none;
}

bool zero_led(std::string_view text) {
  return text.size() >= 2 && text[0] == '0' &&
         std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
}

}  // namespace

TableStudy::TableStudy(TableReading& reading, const TableHead& head, const std::string& name,
                       const OpenOptions& options)
    : reading_(reading), head_(head), name_(name), options_(options), asked_(options.table) {}

void TableStudy::fail(const std::string& expected) const {
  throw CaptureError(name_, "table of numbers", expected);
}

void TableStudy::fail_at(std::uint64_t line, const std::string& expected) const {
  throw CaptureError(name_, at_line(line), expected);
}

void TableStudy::settle_style() {
  bool comma = false, hex = false, exponent = false, zeros = false, other_lengths = false;
  std::size_t length = 0;
  each_reading([&](const HeadRow&, std::size_t, const Cell& cell) {
    const std::string_view text = cell.text;
    comma = comma || text.find(',') != std::string_view::npos;
    const bool letters = text.find_first_of("abcdfABCDF") != std::string_view::npos;
    hex = hex || (look_of(cell, out_.separator) == CellLook::hex && letters);
    exponent = exponent || (text.find_first_of("eE") != std::string_view::npos &&
                            text.find_first_of(".+-xX") == std::string_view::npos);
    zeros = zeros || zero_led(text);
    other_lengths = other_lengths || (length != 0 && text.size() != length);
    length = text.size();
  });
  out_.style.thousands = asked_.thousands.value_or('\0');
  out_.style.decimal_comma = comma && out_.style.thousands != ',';
  if (out_.style.decimal_comma) say("decimal commas");
  if (asked_.base) {
    out_.style.base = *asked_.base;
  } else if (hex) {
    out_.style.base = 16;
    say("readings in hexadecimal: there are letters among their digits");
  } else if (exponent || (zeros && !other_lengths && length > 1)) {
    ask(exponent ? "whether an E in a reading is a hexadecimal digit or an exponent"
                 : "whether readings with leading zeros are hexadecimal",
        {"--base 16", "--base 10"});
  }
  out_.scale = asked_.scale;
}

bool TableStudy::any_negative() const {
  bool negative = false;
  each_reading([&](const HeadRow&, std::size_t, const Cell& cell) {
    negative = negative || (!cell.text.empty() && cell.text.front() == '-');
  });
  return negative;
}

void TableStudy::settle_values() {
  std::optional<FrameKind> kind = options_.values;
  if (!kind && preamble_.values) kind = preamble_.values;
  if (!kind && !names_.empty()) {
    for (const std::string& word : names_[readings_.front()].letters)
      if (const auto told = kind_word(word); told && !kind) {
        kind = told;
        say(fmt::format("{}, as the names say",
                        *kind == FrameKind::raw ? "raw counts" : "differences"));
      }
  }
  if (!kind && any_negative()) {
    kind = FrameKind::difference;
    say("differences: there are negative numbers");
  }
  if (!kind) {
    ask("whether the numbers are raw counts or differences from the baseline",
        {"--values raw", "--values difference"});
    kind = any_negative() ? FrameKind::difference : FrameKind::raw;
  }
  out_.kind = *kind;
  if (!asked_.touch_raises)
    ask("whether a touch lowers or raises the numbers", {"--touch lowers", "--touch raises"});
  const bool raises = asked_.touch_raises.value_or(out_.kind == FrameKind::difference);
  if (out_.kind == FrameKind::raw)
    out_.counts_rise = raises;
  else
    out_.negate = !raises;
  if (asked_.touch_raises)
    say(fmt::format("{}; a touch {} them, as asked for{}",
                    out_.kind == FrameKind::raw ? "raw counts" : "differences",
                    raises ? "raises" : "lowers", out_.negate ? " (signs turned)" : ""));
}

void TableStudy::settle_heading_time() {
  const HeadGroup& second = groups_.size() > 1 ? groups_[1] : groups_.front();
  std::size_t at = second.rows.front();
  for (std::size_t back = 0; back < 4 && at-- > 0; ++back) {
    if (is_data(rows_[at]) && !out_.labels_above) break;
    if (rows_[at].kind == RowKind::blank || is_data(rows_[at])) continue;
    const FrameHeading heading = frame_heading(rows_[at].text);
    if (heading.number) out_.heading_numbers = true;
    if (!heading.time || out_.time_cell) continue;
    out_.heading_time = heading.unit       ? *heading.unit
                        : asked_.time_unit ? form_of(*asked_.time_unit)
                                           : TimeForm::none;
    if (out_.heading_time != TimeForm::none) {
      say(fmt::format("times in {} from the lines between the frames",
                      time_words(out_.heading_time)));
      continue;
    }
    ask("the unit of the times between the frames",
        {"--time-unit us", "--time-unit ms", "--time-unit s"});
    out_.heading_time = TimeForm::milliseconds;
  }
  if (out_.heading_numbers) say("frame numbers from the lines between the frames");
}

void TableStudy::settle_time() {
  settle_heading_time();
  if (out_.sequence_cell) say(fmt::format("frame numbers in column {}", *out_.sequence_cell + 1));
  if (out_.time_cell) {
    const bool own = out_.time == TimeForm::stamp || out_.time == TimeForm::clock;
    const std::optional<TimeUnit> unit = asked_.time_unit;
    if (unit && own) fail("expected no --time-unit: the times are date and time of day");
    if (unit && out_.time != TimeForm::none && out_.time != form_of(*unit))
      fail(fmt::format("expected the --time-unit asked for, but the name of column {} says {}",
                       *out_.time_cell + 1, time_words(out_.time)));
    if (unit) out_.time = form_of(*unit);
    if (out_.time == TimeForm::none) {
      ask(fmt::format("the unit of the times in column {}", *out_.time_cell + 1),
          {"--time-unit us", "--time-unit ms", "--time-unit s", "--time-unit frame"});
      out_.time = TimeForm::milliseconds;
    }
    say(fmt::format("column {}: {}", *out_.time_cell + 1, time_words(out_.time)));
    if (out_.time == TimeForm::frames) {
      out_.sequence_cell = out_.time_cell;
      out_.time_cell.reset();
    }
  }
  out_.frame_period_us = options_.frame_period_us != 0 ? options_.frame_period_us
                                                       : preamble_.frame_period_us.value_or(0);
  const bool timed = out_.time_cell || out_.heading_time != TimeForm::none;
  if (timed || out_.frame_period_us != 0) {
    if (!timed) say(fmt::format("no times: {} us from frame to frame", out_.frame_period_us));
    return;
  }
  // What column it might be is asked already.
  for (const TableQuestion& question : reading_.questions)
    if (question.choices.front() == "--time-unit us") {
      out_.frame_period_us = 10000;
      return;
    }
  ask("the time between frames, which the table does not tell",
      {"--frame-period TIME (for instance 20ms)"});
  out_.frame_period_us = 10000;
}

TableLayout TableStudy::run() {
  count_cells();
  look_at_columns();
  find_header();
  look_at_columns();
  take_preamble();
  bool any = false;
  for (const HeadRow& row : rows_) any = any || is_data(row);
  if (!any) fail("expected lines of numbers under the names");
  find_groups();
  drop_labels();
  find_times();
  find_readings();
  find_index_column();
  settle_shape();
  settle_style();
  settle_values();
  settle_time();
  return out_;
}

TableLayout study_table(TableReading& reading, const TableHead& head, const std::string& name,
                        const OpenOptions& options) {
  TableLayout layout = TableStudy(reading, head, name, options).run();
  if (!options.table.trial) refuse_open_questions(reading, "table of numbers", name);
  return layout;
}

void refuse_open_questions(const TableReading& reading, const char* what, const std::string& name) {
  if (reading.questions.empty()) return;
  std::string open;
  for (const TableQuestion& question : reading.questions) {
    open += fmt::format("{}{}: ", open.empty() ? "" : "; ", question.about);
    for (std::size_t n = 0; n < question.choices.size(); ++n)
      open += (n == 0 ? "" : " or ") + question.choices[n];
  }
  throw CaptureError(name, what,
                     "does not tell everything; add: " + open +
                         ". `bareglass convert FILE --preview` shows it as maps");
}

}  // namespace bareglass::host
