#pragma once
// The same three frames of a small panel as tables of many layouts, made here: what a controller, a
// logger, a logic analyser or a spreadsheet would have written. Invented throughout.

#include <fmt/format.h>

#include <functional>
#include <ostream>
#include <string>
#include <vector>

#include "bareglass/capture/import_profile.hpp"
#include "capture_bytes.hpp"

namespace bareglass::support {

constexpr int kTableRows = 4, kTableCols = 3, kTableFrames = 3;
constexpr int kTablePeriodUs = 20000;

/// The reading of a node, all of them different, no frame symmetric, none growing all the time.
inline int table_value(int frame, int row, int col) {
  return 22000 + 100 * row + 10 * col + 3 * (2 * frame % 3);
}
/// Differences of both signs.
inline int table_difference(int frame, int row, int col) { return 7 * row - 20 * col + frame; }

using CellText = std::function<std::string(int value)>;

struct TableText {
  std::string separator = ",";
  bool by_columns = false;  ///< column after column
  CellText cell = [](int counts) { return std::to_string(counts); };
  std::function<int(int, int, int)> value = table_value;

  /// The readings of a frame in one line.
  std::string readings(int frame) const {
    std::string out;
    for (int i = 0; i < kTableRows * kTableCols; ++i) {
      const int row = by_columns ? i % kTableRows : i / kTableCols;
      const int col = by_columns ? i / kTableRows : i % kTableCols;
      out += (i > 0 ? separator : "") + cell(value(frame, row, col));
    }
    return out;
  }
  /// One row of the panel, or one column.
  std::string line(int frame, int n) const {
    std::string out;
    for (int i = 0; i < (by_columns ? kTableRows : kTableCols); ++i)
      out += (i > 0 ? separator : "") + cell(by_columns ? value(frame, i, n) : value(frame, n, i));
    return out;
  }
  int lines() const { return by_columns ? kTableCols : kTableRows; }
};

/// Names of a frame's readings, as `name` makes them from row and column.
inline std::string table_names(const TableText& text,
                               const std::function<std::string(int, int)>& name) {
  std::string out;
  for (int i = 0; i < kTableRows * kTableCols; ++i) {
    const int row = text.by_columns ? i % kTableRows : i / kTableCols;
    const int col = text.by_columns ? i / kTableRows : i % kTableCols;
    out += (i > 0 ? text.separator : "") + name(row, col);
  }
  return out;
}

/// Lines from `line(frame)`.
inline std::string frames_text(const std::function<std::string(int)>& line) {
  std::string out;
  for (int f = 0; f < kTableFrames; ++f) out += line(f) + "\n";
  return out;
}

inline std::string numbered(const TableText& text, const char* stem) {
  std::string out;
  for (int i = 0; i < kTableRows * kTableCols; ++i)
    out += (i > 0 ? text.separator : "") + stem + std::to_string(i);
  return out;
}

struct TableCase {
  std::string name;
  std::string text;
  /// Settings without which it is refused, "order=rows"; the refusal must name each as an option.
  std::vector<std::string> needed;
  std::vector<std::string> given = {};  ///< more of them, which it would not ask for
  bool difference = false;
  int first_us = 0;  ///< time of the first frame
};

inline void PrintTo(const TableCase& one, std::ostream* out) { *out << one.name; }

inline std::string utf16(const std::string& text, bool big, bool mark) {
  std::string out;
  const auto put = [&](int c) {
    const char low = static_cast<char>(c & 255), high = static_cast<char>(c >> 8);
    out += big ? high : low;
    out += big ? low : high;
  };
  if (mark) put(0xFEFF);
  for (const char c : text) put(static_cast<unsigned char>(c));
  return out;
}

inline std::string table_decimal_comma(int value, int thousandths_of) {
  return fmt::format("{},{:03}", value / thousandths_of, value % thousandths_of);
}

inline std::vector<TableCase> table_cases() {
  const std::vector<std::string> kShape = {"rows=4", "columns=3"};
  const std::vector<std::string> kKind = {"values=raw", "touch=lowers"};
  const auto with = [](std::vector<std::string> x, const std::vector<std::string>& y) {
    x.insert(x.end(), y.begin(), y.end());
    return x;
  };
  const auto whole = with({"order=rows"}, kKind);
  TableText comma, semicolon, tab, blank, columns;
  semicolon.separator = ";";
  tab.separator = "\t";
  blank.separator = "  ";
  columns.by_columns = true;
  const auto us = [](int f) { return std::to_string(f * kTablePeriodUs); };
  const auto ms = [](int f) { return std::to_string(f * 20); };
  const auto s = [](int f) { return fmt::format("{:.3f}", f * 0.020); };
  std::vector<TableCase> out;
  const auto add = [&out](TableCase one) { out.push_back(std::move(one)); };

  add({"comma_us_named", "t_us," + numbered(comma, "v") + "\n" + frames_text([&](int f) {
                           return us(f) + "," + comma.readings(f);
                         }),
       with(kShape, whole)});
  add({"comma_column_after_column",
       "time_us," + numbered(columns, "n") + "\n" +
           frames_text([&](int f) { return us(f) + "," + columns.readings(f); }),
       with(kShape, with({"order=columns"}, kKind))});
  TableText fraction = semicolon;
  fraction.cell = [](int v) { return std::to_string(v) + ",0"; };
  add({"semicolon_decimal_comma",
       "Zeit [s];" + numbered(fraction, "Kanal ") + "\n" + frames_text([&](int f) {
         return fmt::format("0,{:03}", f * 20) + ";" + fraction.readings(f);
       }),
       with(kShape, whole)});
  add({"tabs_milliseconds", "Time (ms)\t" + numbered(tab, "ch") + "\n" + frames_text([&](int f) {
                              return ms(f) + "\t" + tab.readings(f);
                            }),
       with(kShape, whole)});
  add({"blanks_no_header",
       frames_text([&](int f) { return "  " + ms(f) + " " + blank.readings(f); }),
       with(with(kShape, {"time_unit=ms"}), whole)});
  TableText hex = comma;
  hex.cell = [](int v) { return fmt::format("0x{:04X}", v); };
  add({"hex_with_prefix", "timestamp_ms," + numbered(hex, "raw") + "\n" + frames_text([&](int f) {
                            return ms(f) + "," + hex.readings(f);
                          }),
       with(kShape, {"order=rows", "touch=lowers"})});
  TableText bare = blank;
  bare.cell = [](int v) { return fmt::format("{:04X}", v); };
  add({"hex_bare", frames_text([&](int f) { return bare.readings(f); }),
       with(with(kShape, {"frame_period_us=20000"}), whole)});
  TableText point = comma;
  point.cell = [](int v) { return std::to_string(v) + ".0"; };
  add({"point_zero_seconds", "seconds," + numbered(point, "v") + "\n" + frames_text([&](int f) {
                               return s(f) + "," + point.readings(f);
                             }),
       with(kShape, whole)});
  TableText quoted = comma;
  quoted.cell = [](int v) { return fmt::format("\"{}\"", v); };
  add({"quoted_frame_number", "\"Frame\"," + numbered(quoted, "s") + "\n" + frames_text([&](int f) {
                                return fmt::format("\"{}\",", f) + quoted.readings(f);
                              }),
       with(with(kShape, {"frame_period_us=20000"}), whole)});
  add({"iso_8601", "when," + numbered(comma, "v") + "\n" + frames_text([&](int f) {
                     return fmt::format("2031-05-06T07:08:09.{:03}Z,", 900 + f * 20) +
                            comma.readings(f);
                   }),
       with(kShape, whole)});
  add({"date_and_clock_apart", frames_text([&](int f) {
         return fmt::format("2031-05-06 07:08:09.{:03} ", 100 + f * 20) + blank.readings(f);
       }),
       with(kShape, whole)});
  add({"no_time_no_header", frames_text([&](int f) { return comma.readings(f); }),
       with(with(kShape, {"frame_period_us=20000"}), whole)});
  add({"columns_before_and_after",
       "t_ms,temperature," + numbered(comma, "v") + ",supply_mV,note\n" +
           frames_text([&](int f) { return ms(f) + ",31.5," + comma.readings(f) + ",3700,ok"; }),
       with(kShape, whole)});
  add({"extra_numbers_no_header",
       frames_text([&](int f) { return ms(f) + ",31," + comma.readings(f) + ",3700"; }),
       with(with(kShape, {"values_from=3"}), whole),
       {"time_column=1", "time_unit=ms"}});
  add({"slash_comments_and_preamble",
       "// touch logger 2\n// Rows: 4\n// Columns: 3\n// rate: 50 Hz\n// Data: raw\n" +
           frames_text([&](int f) { return comma.readings(f); }),
       {"order=rows", "touch=lowers"}});
  add({"semicolon_comments",
       "; written at the bench\n; frame period = 20 ms\n" +
           frames_text([&](int f) { return tab.readings(f); }),
       with(kShape, whole)});
  add({"hash_header_and_key_values",
       "unit: ward bench\nRows = 4\nCols = 3\n\n# t_ms " + numbered(blank, "x") + "\n" +
           frames_text([&](int f) { return ms(f) + " " + blank.readings(f); }),
       whole});
  const auto block = [](const TableText& text, int f) {
    std::string lines;
    for (int n = 0; n < text.lines(); ++n) lines += text.line(f, n) + "\n";
    return lines;
  };
  add({"a_row_a_line_blank_lines", frames_text([&](int f) { return block(comma, f); }),
       with({"order=rows", "frame_period_us=20000"}, kKind)});
  add({"a_column_a_line_blank_lines", frames_text([&](int f) { return block(columns, f); }),
       with({"order=columns", "frame_period_us=20000"}, kKind)});
  add({"a_row_a_line_frame_headings", frames_text([&](int f) {
         return fmt::format("Frame {} t={} ms\n", f, f * 20) + block(blank, f);
       }),
       with({"order=rows"}, kKind)});
  add({"a_row_a_line_nothing_between",
       [&] {
         std::string all;
         for (int f = 0; f < kTableFrames; ++f) all += block(comma, f);
         return all;
       }(),
       {"frame_period_us=20000", "values=raw", "touch=lowers"},
       {"rows=4", "columns=3"}});
  add({"labelled_rows_and_columns", frames_text([&](int f) {
         std::string lines = fmt::format("# frame {}\n\tC0\tC1\tC2\n", f);
         for (int n = 0; n < kTableRows; ++n)
           lines += fmt::format("R{}:\t", n) + tab.line(f, n) + "\n";
         return lines;
       }),
       with({"frame_period_us=20000"}, kKind)});
  add({"counted_rows_and_columns", frames_text([&](int f) {
         std::string lines = "     0      1      2\n";
         for (int n = 0; n < kTableRows; ++n)
           lines += fmt::format("{} ", n) + blank.line(f, n) + "\n";
         return lines;
       }),
       with({"order=rows", "frame_period_us=20000"}, kKind)});
  add({"row_column_in_each_line", "t_ms,row,c0,c1,c2\n" + frames_text([&](int f) {
                                    std::string lines;
                                    for (int n = 0; n < kTableRows; ++n)
                                      lines += ms(f) + fmt::format(",{},", n) + comma.line(f, n) +
                                               (n < 3 ? "\n" : "");
                                    return lines;
                                  }),
       kKind});
  add({"names_say_row_and_column",
       "t_us," + table_names(comma, [](int r, int c) { return fmt::format("R{}C{}", r, c); }) +
           "\n" + frames_text([&](int f) { return us(f) + "," + comma.readings(f); }),
       kKind});
  add({"names_say_row_and_column_turned",
       "t_us," +
           table_names(
               columns,
               [](int r, int c) { return fmt::format("sense{:02}_drive{:02}", c + 1, r + 1); }) +
           "\n" + frames_text([&](int f) { return us(f) + "," + columns.readings(f); }),
       kKind});
  add({"names_with_two_numbers",
       "t_us," +
           table_names(comma, [](int r, int c) { return fmt::format("node[{}][{}]", r, c); }) +
           "\n" + frames_text([&](int f) { return us(f) + "," + comma.readings(f); }),
       whole});
  add({"utf16_with_mark",
       utf16("t_ms\t" + numbered(tab, "v") + "\r\n" +
                 frames_text([&](int f) { return ms(f) + "\t" + tab.readings(f); }),
             false, true),
       with(kShape, whole)});
  add({"utf16_big_endian_without_mark",
       utf16("t_ms\t" + numbered(tab, "v") + "\n" +
                 frames_text([&](int f) { return ms(f) + "\t" + tab.readings(f); }),
             true, false),
       with(kShape, whole)});
  add({"utf8_mark_and_trailing_separators",
       "\xEF\xBB\xBFt_ms;" + numbered(semicolon, "v") + ";\r\n" +
           frames_text([&](int f) { return ms(f) + ";" + semicolon.readings(f) + ";\r"; }),
       with(kShape, whole)});
  TableText signed_text = comma;
  signed_text.value = table_difference;
  TableCase differences{"differences_by_sign",
                        "t_ms," + numbered(signed_text, "d") + "\n" + frames_text([&](int f) {
                          return ms(f) + "," + signed_text.readings(f);
                        }),
                        with(kShape, {"order=rows", "touch=raises"})};
  differences.difference = true;
  add(differences);
  TableText turned_sign = comma;
  turned_sign.value = [](int f, int r, int c) { return -table_difference(f, r, c); };
  TableCase turned{"differences_of_the_other_sign",
                   "t_ms," + numbered(turned_sign, "delta") + "\n" +
                       frames_text([&](int f) { return ms(f) + "," + turned_sign.readings(f); }),
                   with(kShape, {"order=rows", "touch=lowers"})};
  turned.difference = true;
  add(turned);
  TableText grouped = semicolon;
  grouped.cell = [](int v) { return table_decimal_comma(v, 1000); };
  add({"thousands_parted", "t_ms;" + numbered(grouped, "v") + "\n" + frames_text([&](int f) {
                             return ms(f) + ";" + grouped.readings(f);
                           }),
       with(with(kShape, {"thousands=comma"}), whole)});
  TableText padded = blank;
  padded.cell = [](int v) { return fmt::format("{:08}", v); };
  add({"leading_zeros", frames_text([&](int f) { return padded.readings(f); }),
       with(with(kShape, {"frame_period_us=20000", "base=10"}), whole)});
  add({"microseconds_sign",
       "t (\xC2\xB5s)," + numbered(comma, "v") + "\n" +
           frames_text([&](int f) { return us(f) + "," + comma.readings(f); }),
       with(kShape, whole)});
  add({"trigger_before_zero", "time [s]," + numbered(comma, "v") + "\n" + frames_text([&](int f) {
                                return fmt::format("{:.3f},", -0.5 + f * 0.020) + comma.readings(f);
                              }),
       with(kShape, whole)});
  return out;
}

/// "order=rows" and the like taken into options.
inline void take_setting(host::OpenOptions& options, const std::string& setting) {
  const std::size_t equal = setting.find('=');
  const std::string name = setting.substr(0, equal), value = setting.substr(equal + 1);
  if (name == "rows")
    options.rows = std::stoi(value);
  else if (name == "columns")
    options.cols = std::stoi(value);
  else if (name == "frame_period_us")
    options.frame_period_us = static_cast<std::uint32_t>(std::stoul(value));
  else if (name == "values")
    options.values = value == "raw" ? host::FrameKind::raw : host::FrameKind::difference;
  else
    host::set_import(options, name, value);
}

/// The option that a refusal names for a setting: "--order rows".
inline std::string option_of(const std::string& setting) {
  const std::size_t equal = setting.find('=');
  std::string name = setting.substr(0, equal);
  if (name == "frame_period_us") return "--frame-period";
  if (name == "rows" || name == "columns") return "--" + name;  // the numbers are examples
  for (char& c : name)
    if (c == '_') c = '-';
  return "--" + name + " " + setting.substr(equal + 1);
}

}  // namespace bareglass::support
