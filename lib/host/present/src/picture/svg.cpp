#include <fmt/format.h>

#include <algorithm>
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

std::string path_of(const GlassOutline& ring) {
  std::string out = "M";
  for (const GlassPoint& p : ring)
    out += fmt::format(" {:.1f},{:.1f}", kLeft + p.x * kUnit, kTop + p.y * kUnit);
  return out + " Z";
}

std::string outlines(const HeatMap& map) {
  std::string out;
  const auto line = [&](const GlassOutline& ring, const char* ink, double width, const char* more) {
    if (ring.size() < 3) return;
    out += fmt::format(
        "<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:.1f}\" "
        "stroke-linejoin=\"round\"{}/>\n",
        path_of(ring), ink, width, more);
  };
  for (const OutlineDrawn& o : map.outlines) {
    for (const GlassOutline* bound : {&o.inner, &o.outer})
      line(*bound, "#1a1a1a", 1.0, " stroke-dasharray=\"4 3\"");
    line(o.at, "#ffffff", 5.0, "");
    line(o.at, "#1a1a1a", 2.2, "");
  }
  for (const OutlineDrawn& o : map.outlines) {
    if (o.label.empty() || o.at.empty()) continue;
    double x = 0.0, top = o.at.front().y;
    for (const GlassPoint& p : o.at) {
      x += p.x / static_cast<double>(o.at.size());
      top = std::min(top, p.y);
    }
    out += fmt::format(
        "<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"15\" font-weight=\"bold\" fill=\"#1a1a1a\" "
        "stroke=\"#ffffff\" stroke-width=\"4\" paint-order=\"stroke\" "
        "text-anchor=\"middle\">{}</text>\n",
        kLeft + x * kUnit, std::max(kTop + 14.0, kTop + top * kUnit - 7.0), escaped(o.label));
  }
  return out;
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
  const bool noise = map.unit == HeatMap::Unit::noise;
  const char* sign = noise ? "" : " %";
  label(6, fmt::format("{:+.0f}{}", full, sign));
  label(24, noise ? "more than predicted" : "like a touch");
  label(kSteps * kStep / 2, noise ? "0, as predicted" : "0, as the bare panel");
  label(kSteps * kStep - 24, noise ? "less than predicted" : "opposite to a touch");
  label(kSteps * kStep - 6, fmt::format("{:+.0f}{}", -full, sign));
  out +=
      fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"13\" fill=\"#555\">{}</text>\n", x,
                  kTop + kSteps * kStep + 22, noise ? "times the noise" : "percent of a finger");
  return out;
}

}  // namespace

namespace {

struct Size {
  double width, height;
};

/// The elements of one picture and their extent, corners at the origin.
Size draw_map(std::string& out, const HeatMap& map, double least_width) {
  const double panel_width = map.shape.cols * map.pitch_col_mm * kUnit;
  const double panel_height = map.shape.rows * map.pitch_row_mm * kUnit;
  const double needed = kLeft + panel_width + 30 + kLegend + 30;
  const double width = std::max(needed, least_width);
  const std::vector<std::string> caption = caption_lines(map.caption, width - 28);
  const double caption_top = kTop + (panel_height < 290 ? 290 : panel_height) + 42;
  const double height = caption_top + 24.0 * static_cast<double>(caption.size());
  out += fmt::format(
      "<text x=\"14\" y=\"34\" font-size=\"22\" font-weight=\"bold\" "
      "fill=\"#1a1a1a\">{}</text>\n",
      escaped(map.title));
  const double full = full_scale_percent(map);
  for (int r = 0; r < map.shape.rows; ++r)
    for (int c = 0; c < map.shape.cols; ++c) out += cell(map, r, c, full);
  out += axes(map) + outlines(map) + (map.outlines.empty() ? mark(map) : "") +
         legend(map, kLeft + panel_width + 30);
  for (std::size_t k = 0; k < caption.size(); ++k)
    out += fmt::format("<text x=\"14\" y=\"{:.1f}\" font-size=\"17\" fill=\"#1a1a1a\">{}</text>\n",
                       caption_top + 24.0 * static_cast<double>(k), escaped(caption[k]));
  return {width, height};
}

std::string document(const std::string& title, Size size, const std::string& drawn) {
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0f} {1:.0f}\" width=\"{0:.0f}\" "
      "height=\"{1:.0f}\" font-family=\"sans-serif\">\n"
      "<title>{2}</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n"
      "<defs><pattern id=\"below\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
      "patternTransform=\"rotate(45)\">"
      "<rect width=\"1.6\" height=\"7\" fill=\"#000000\" fill-opacity=\"0.28\"/></pattern></defs>\n"
      "{3}</svg>\n",
      size.width, size.height, escaped(title), drawn);
}

}  // namespace

std::string heat_map_svg(const HeatMap& map) {
  std::string drawn;
  const Size size = draw_map(drawn, map, kLeastWidth);
  return document(map.title, size, drawn);
}

std::string heat_maps_svg(const std::vector<HeatMap>& maps) {
  std::string drawn;
  std::string title;
  Size all{0.0, 0.0};
  for (const HeatMap& map : maps) {
    drawn += fmt::format("<g transform=\"translate({:.0f} 0)\">\n", all.width);
    const Size size = draw_map(drawn, map, 0.0);
    drawn += "</g>\n";
    all = {all.width + size.width, std::max(all.height, size.height)};
    title += (title.empty() ? "" : "; ") + map.title;
  }
  return document(title, all, drawn);
}

}  // namespace bareglass::host
