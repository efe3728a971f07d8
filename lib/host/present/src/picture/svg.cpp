#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <sstream>
#include <vector>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/present/heat_map.hpp"

namespace bareglass::host {

namespace {

constexpr double kUnit = 8.0;  // user units per millimetre
constexpr double kLeft = 76.0;
constexpr double kTop = 92.0;
constexpr double kLegend = 150.0;
constexpr double kLeastWidth = 860.0;  // title and caption need room even over a narrow panel

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : plain::harmless(text)) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

// Lines of at most `width` user units at 17 px: a character of a sans-serif face is about 8.8 wide.
std::vector<std::string> caption_lines(const std::string& text, double width) {
  std::vector<std::string> lines(1);
  std::istringstream words(text);
  for (std::string word; words >> word;) {
    const auto length = static_cast<double>(lines.back().size() + 1 + word.size());
    if (!lines.back().empty() && length * 8.8 > width) lines.emplace_back();
    lines.back() += (lines.back().empty() ? "" : " ") + word;
  }
  return lines;
}

std::string hex(Rgb c) { return fmt::format("#{:02x}{:02x}{:02x}", c.r, c.g, c.b); }

std::string cell(const HeatMap& map, int row, int col, double full) {
  const int counts = map.counts[static_cast<std::size_t>(row * map.shape.cols + col)];
  const double percent = 100.0 * counts / map.finger_counts;
  const double w = map.pitch_col_mm * kUnit;
  const double h = map.pitch_row_mm * kUnit;
  const double x = kLeft + col * w;
  const double y = kTop + row * h;
  std::string out = fmt::format(
      "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" fill=\"{}\" "
      "stroke=\"#c8c8c8\" stroke-width=\"0.5\"/>\n",
      x, y, w, h, hex(diverging_colour(percent / full)));
  if (2 * std::abs(counts) < map.limit) return out;
  if (counts < 0)
    out += fmt::format(
        "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" "
        "fill=\"url(#below)\"/>\n",
        x, y, w, h);
  const char* ink = std::abs(percent / full) > 0.6 ? "#ffffff" : "#1a1a1a";
  out += fmt::format(
      "<text x=\"{:.1f}\" y=\"{:.1f}\" fill=\"{}\" font-size=\"{:.1f}\" "
      "text-anchor=\"middle\">{:+d}</text>\n",
      x + w / 2, y + h / 2 + 0.13 * h, ink, 0.36 * (w < h ? w : h),
      static_cast<int>(std::lround(percent)));
  return out;
}

std::string axes(const HeatMap& map) {
  std::string out;
  const double w = map.pitch_col_mm * kUnit;
  const double h = map.pitch_row_mm * kUnit;
  for (int c = 0; c < map.shape.cols; ++c)
    out += fmt::format(
        "<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"13\" fill=\"#555\" "
        "text-anchor=\"middle\">{}</text>\n",
        kLeft + (c + 0.5) * w, kTop - 8, c);
  for (int r = 0; r < map.shape.rows; ++r)
    out += fmt::format(
        "<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"13\" fill=\"#555\" "
        "text-anchor=\"end\">{}</text>\n",
        kLeft - 8, kTop + (r + 0.5) * h + 5, r);
  out +=
      fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"13\" fill=\"#555\">column</text>\n",
                  kLeft, kTop - 26);
  out += fmt::format("<text x=\"14\" y=\"{:.1f}\" font-size=\"13\" fill=\"#555\">row</text>\n",
                     kTop + 0.5 * h + 5);
  return out;
}

std::string mark(const HeatMap& map) {
  if (!map.mark) return {};
  const Box& b = *map.mark;
  const double w = map.pitch_col_mm * kUnit;
  const double h = map.pitch_row_mm * kUnit;
  return fmt::format(
      "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" fill=\"none\" "
      "stroke=\"#1a1a1a\" stroke-width=\"3\" rx=\"6\"/>\n",
      kLeft + b.col0 * w, kTop + b.row0 * h, b.width() * w, b.height() * h);
}

std::string legend(const HeatMap& map, double x) {
  const double full = full_scale_percent(map);
  constexpr int kSteps = 20;
  constexpr double kStep = 12.0;
  std::string out;
  for (int k = 0; k < kSteps; ++k) {
    const double share = 1.0 - 2.0 * (k + 0.5) / kSteps;
    const double y = kTop + k * kStep;
    out += fmt::format(
        "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"22\" height=\"{:.1f}\" fill=\"{}\"/>\n", x, y,
        kStep, hex(diverging_colour(share)));
    if (share < 0)
      out += fmt::format(
          "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"22\" height=\"{:.1f}\" fill=\"url(#below)\"/>\n",
          x, y, kStep);
  }
  const auto label = [&](double at, const std::string& text) {
    out +=
        fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"13\" fill=\"#1a1a1a\">{}</text>\n",
                    x + 30, kTop + at + 5, text);
  };
  label(6, fmt::format("{:+.0f} %", full));
  label(24, "like a touch");
  label(kSteps * kStep / 2, "0, as the bare panel");
  label(kSteps * kStep - 24, "opposite to a touch");
  label(kSteps * kStep - 6, fmt::format("{:+.0f} %", -full));
  out += fmt::format(
      "<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"13\" fill=\"#555\">percent of a finger</text>\n",
      x, kTop + kSteps * kStep + 22);
  return out;
}

}  // namespace

std::string heat_map_svg(const HeatMap& map) {
  const double panel_width = map.shape.cols * map.pitch_col_mm * kUnit;
  const double panel_height = map.shape.rows * map.pitch_row_mm * kUnit;
  const double needed = kLeft + panel_width + 30 + kLegend + 30;
  const double width = needed < kLeastWidth ? kLeastWidth : needed;
  const std::vector<std::string> caption = caption_lines(map.caption, width - 28);
  const double caption_top = kTop + (panel_height < 290 ? 290 : panel_height) + 42;
  const double height = caption_top + 24.0 * static_cast<double>(caption.size());
  std::string out = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0f} {1:.0f}\" width=\"{0:.0f}\" "
      "height=\"{1:.0f}\" font-family=\"sans-serif\">\n"
      "<title>{2}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n"
      "<defs><pattern id=\"below\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
      "patternTransform=\"rotate(45)\">"
      "<rect width=\"1.6\" height=\"7\" fill=\"#000000\" fill-opacity=\"0.28\"/></pattern></defs>\n"
      "<text x=\"14\" y=\"34\" font-size=\"22\" font-weight=\"bold\" fill=\"#1a1a1a\">{2}</text>\n",
      width, height, escaped(map.title));
  const double full = full_scale_percent(map);
  for (int r = 0; r < map.shape.rows; ++r)
    for (int c = 0; c < map.shape.cols; ++c) out += cell(map, r, c, full);
  out += axes(map) + mark(map) + legend(map, kLeft + panel_width + 30);
  for (std::size_t k = 0; k < caption.size(); ++k)
    out += fmt::format("<text x=\"14\" y=\"{:.1f}\" font-size=\"17\" fill=\"#1a1a1a\">{}</text>\n",
                       caption_top + 24.0 * static_cast<double>(k), escaped(caption[k]));
  out += "</svg>\n";
  return out;
}

}  // namespace bareglass::host
