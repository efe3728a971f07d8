#include "import_preview.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/plain_text.hpp"

namespace bareglass::tools {

namespace {

constexpr std::size_t kFrames = 3;
/// Readings that are looked at for a start: a live source must not be waited for.
constexpr std::size_t kMostRecords = 64;

PreviewMap map_of(const host::FrameRecord& frame, const std::string& how) {
  PreviewMap map;
  map.rows = frame.rows;
  map.cols = frame.cols;
  map.title = fmt::format("frame {} at {:.3f} s{}", frame.sequence,
                          static_cast<double>(frame.t_us) / 1e6, how);
  if (frame.kind == host::FrameKind::raw)
    map.counts.assign(frame.raw.begin(), frame.raw.end());
  else
    map.counts.assign(frame.difference.begin(), frame.difference.end());
  return map;
}

void take_maps(std::vector<PreviewMap>& out, host::CaptureReader& reader, std::size_t most,
               const std::string& how) {
  host::Record record;
  for (std::size_t n = 0; n < kMostRecords && most > 0 && reader.next(record); ++n)
    if (const auto* frame = std::get_if<host::FrameRecord>(&record)) {
      out.push_back(map_of(*frame, how));
      --most;
    }
}

bool asks_order(const host::TableReading& reading) {
  for (const host::TableQuestion& question : reading.questions)
    for (const std::string& choice : question.choices)
      if (choice == "--order rows") return true;
  return false;
}

std::pair<int, int> range_of(const PreviewMap& map) {
  const auto [least, most] = std::minmax_element(map.counts.begin(), map.counts.end());
  return {*least, *most};
}

int at(const PreviewMap& map, int row, int col) {
  return map.counts[static_cast<std::size_t>(row * map.cols + col)];
}

/// 0 for the least reading, 1 for the greatest.
double share_of(int value, std::pair<int, int> range) {
  const int span = range.second - range.first;
  return span > 0 ? static_cast<double>(value - range.first) / span : 0.5;
}

int grey_of(double share) { return 40 + static_cast<int>(200 * share + 0.5); }

std::string shades(const PreviewMap& map, bool colour) {
  static constexpr char kSigns[] = " .:-=+*#%@";
  const auto range = range_of(map);
  const int wide = map.cols <= 46 ? 2 : 1;
  std::string out;
  for (int row = 0; row < map.rows; ++row) {
    out += fmt::format("{:>5} ", row);
    for (int col = 0; col < map.cols; ++col) {
      const double share = share_of(at(map, row, col), range);
      const std::string cell(static_cast<std::size_t>(wide),
                             colour ? ' ' : kSigns[static_cast<std::size_t>(share * 9 + 0.5)]);
      const int grey = grey_of(share);
      out += colour ? fmt::format("\x1b[48;2;{0};{0};{0}m{1}\x1b[0m", grey, cell) : cell;
    }
    out += '\n';
  }
  return out;
}

std::string escaped_for_svg(const std::string& text) {
  std::string out;
  for (const char c : plain::harmless(text))
    out += c == '&' ? "&amp;" : c == '<' ? "&lt;" : c == '>' ? "&gt;" : std::string(1, c);
  return out;
}

constexpr int kCell = 14;
constexpr int kMapLeft = 40;
constexpr int kMapTop = 56;

int map_height(const PreviewMap& map) { return kMapTop + map.rows * kCell + 30; }

std::string svg_text(int x, int y, int size, const std::string& text) {
  return fmt::format("<text x=\"{}\" y=\"{}\" font-size=\"{}\">{}</text>\n", x, y, size,
                     escaped_for_svg(text));
}

std::string svg_map(const PreviewMap& map, int top) {
  const auto range = range_of(map);
  std::string out = svg_text(kMapLeft, top + 20, 15, map.title);
  out += svg_text(kMapLeft, top + 36, 11,
                  fmt::format("{} rows x {} columns, {} (dark) to {} (light) counts", map.rows,
                              map.cols, range.first, range.second));
  for (int col = 0; col < map.cols; col += 5)
    out += svg_text(kMapLeft + col * kCell + 2, top + kMapTop - 4, 9, std::to_string(col));
  for (int row = 0; row < map.rows; ++row) {
    if (row % 5 == 0)
      out += svg_text(kMapLeft - 20, top + kMapTop + row * kCell + 11, 9, std::to_string(row));
    for (int col = 0; col < map.cols; ++col) {
      const int grey = grey_of(share_of(at(map, row, col), range));
      out += fmt::format(
          "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" "
          "fill=\"#{:02x}{:02x}{:02x}\"><title>row "
          "{}, column {}: {}</title></rect>\n",
          kMapLeft + col * kCell, top + kMapTop + row * kCell, kCell - 1, kCell - 1, grey, grey,
          grey, row, col, at(map, row, col));
    }
  }
  return out;
}

}  // namespace

double roughness(const PreviewMap& map) {
  double sum = 0;
  std::size_t steps = 0;
  const auto add = [&](int x, int y) {
    sum += std::abs(x - y);
    ++steps;
  };
  for (int row = 0; row < map.rows; ++row)
    for (int col = 0; col < map.cols; ++col) {
      if (col > 0) add(at(map, row, col), at(map, row, col - 1));
      if (row > 0) add(at(map, row, col), at(map, row - 1, col));
    }
  return steps > 0 ? sum / static_cast<double>(steps) : 0.0;
}

Preview preview_of(const std::string& path, const host::OpenOptions& options) {
  Preview out;
  out.file = host::shown_name(path, "standard input");
  host::OpenOptions trial = options;
  trial.table.trial = true;
  const auto reader = host::open_capture(path, trial);
  out.reading = reader->reading();
  const bool both = asks_order(out.reading) && path != "-";
  take_maps(out.maps, *reader, both ? 1 : kFrames, both ? ", with --order rows" : "");
  if (both) {
    trial.table.order = host::NodeOrder::columns;
    take_maps(out.maps, *host::open_capture(path, trial), 1, ", with --order columns");
  }
  if (out.maps.empty()) throw host::CaptureError(out.file, "", "expected at least one frame");
  return out;
}

std::string preview_text(const Preview& preview, bool colour) {
  std::string out = plain::harmless(preview.file) + "\n";
  if (!preview.reading.understood.empty()) out += "\nUnderstood\n";
  for (const std::string& sentence : preview.reading.understood)
    out += plain::wrapped("  - ", plain::harmless(sentence));
  if (!preview.reading.questions.empty()) out += "\nNot told by the file: add one option of each\n";
  for (const host::TableQuestion& question : preview.reading.questions) {
    out += plain::wrapped("  - ", question.about + ":");
    for (const std::string& choice : question.choices) out += "      " + choice + "\n";
  }
  for (const PreviewMap& map : preview.maps) {
    const auto range = range_of(map);
    out += fmt::format("\n{}: {} rows x {} columns, {} to {} counts\n", map.title, map.rows,
                       map.cols, range.first, range.second);
    out += shades(map, colour);
    out += fmt::format("      neighbouring nodes differ by {:.1f} counts on average\n",
                       roughness(map));
  }
  if (preview.maps.size() == 2 && asks_order(preview.reading))
    out += plain::wrapped("",
                          "Of a bare panel the right order is usually the smoother one; only who "
                          "knows the panel can say.");
  return out;
}

std::string preview_svg(const Preview& preview) {
  int height = 30, width = 480;
  for (const PreviewMap& map : preview.maps) {
    height += map_height(map);
    width = std::max(width, kMapLeft + map.cols * kCell + 20);
  }
  std::string out = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}\" height=\"{1}\" viewBox=\"0 0 {0} "
      "{1}\" font-family=\"sans-serif\">\n<rect width=\"{0}\" height=\"{1}\" fill=\"white\"/>\n",
      width, height);
  out += svg_text(kMapLeft, 22, 12, preview.file);
  int top = 30;
  for (const PreviewMap& map : preview.maps) {
    out += svg_map(map, top);
    top += map_height(map);
  }
  return out + "</svg>\n";
}

}  // namespace bareglass::tools
