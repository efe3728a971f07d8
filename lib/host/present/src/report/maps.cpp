#include "maps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bareglass/present/html.hpp"

namespace bareglass::host::report {

namespace {

constexpr double kUnit = 10.0;  // user units per millimetre of glass

std::string hex(Rgb c) { return fmt::format("#{:02x}{:02x}{:02x}", c.r, c.g, c.b); }

// Where nodes lie in the picture.
struct Grid {
  double w, h;       ///< of a node
  double left, top;  ///< room for line numbers
  double size;       ///< of the line numbers
  double x(int col) const { return left + col * w; }
  double y(int row) const { return top + row * h; }
};

Grid grid_of(const HeatMap& map, bool numbered) {
  const double w = map.pitch_col_mm * kUnit;
  const double h = map.pitch_row_mm * kUnit;
  // Line numbers as tall as 3.2 % of the longer side stay legible at any size of panel.
  const double size = 0.032 * std::max(map.shape.cols * w, map.shape.rows * h);
  return {w, h, numbered ? 2.1 * size : 2.0, numbered ? 1.5 * size : 2.0, size};
}

std::string begin(const HeatMap& map, const Grid& g, const std::string& label) {
  // The number of the last column is wider than a narrow node.
  const double overhang = g.left > 2.0 ? std::max(0.0, 0.6 * g.size - g.w / 2) : 0.0;
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-label=\"{}\" viewBox=\"0 0 "
      "{:.0f} {:.0f}\" font-family=\"sans-serif\">\n",
      escaped(label), g.left + map.shape.cols * g.w + 4 + overhang,
      g.top + map.shape.rows * g.h + 4);
}

std::string rect(double x, double y, double w, double h, const std::string& attributes) {
  return fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" {}/>\n", x,
                     y, w, h, attributes);
}

std::string box_ring(const Box& b, const Grid& g, double stroke) {
  const double x = g.x(b.col0), y = g.y(b.row0), w = b.width() * g.w, h = b.height() * g.h;
  // White below black: seen on dark and on light nodes alike.
  return rect(x, y, w, h,
              fmt::format("rx=\"{:.1f}\" fill=\"none\" stroke=\"#ffffff\" stroke-width=\"{:.1f}\"",
                          0.2 * g.w, 2.0 * stroke)) +
         rect(x, y, w, h,
              fmt::format("rx=\"{:.1f}\" fill=\"none\" stroke=\"#111111\" stroke-width=\"{:.1f}\"",
                          0.2 * g.w, stroke));
}

std::string ring_path(const GlassOutline& ring, const Grid& g) {
  std::string out = "M";
  for (const GlassPoint& p : ring)
    out += fmt::format(" {:.1f},{:.1f}", g.left + p.x * kUnit, g.top + p.y * kUnit);
  return out + " Z";
}

/// The lines alone: areas are told beside the map.
std::string outlines(const HeatMap& map, const Grid& g) {
  std::string out;
  const double line = 0.06 * g.size + 2.0;
  const auto draw = [&](const GlassOutline& ring, const char* ink, double width, const char* more) {
    if (ring.size() > 2)
      out += fmt::format(
          "<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:.1f}\" "
          "stroke-linejoin=\"round\"{}/>\n",
          ring_path(ring, g), ink, width, more);
  };
  for (const OutlineDrawn& o : map.outlines) {
    for (const GlassOutline* bound : {&o.inner, &o.outer})
      draw(*bound, "#111111", 0.4 * line, " stroke-dasharray=\"5 4\"");
    draw(o.at, "#ffffff", 2.2 * line, "");
    draw(o.at, "#111111", line, "");
  }
  return out;
}

std::string line_numbers(const HeatMap& map, const Grid& g) {
  const auto every = [&](double pitch) {
    int step = 1;
    while (step * pitch < 1.9 * g.size) step = step == 1 ? 2 : step == 2 ? 5 : step + 5;
    return step;
  };
  std::string out;
  for (int c = 0; c < map.shape.cols; c += every(g.w))
    out += fmt::format(
        "<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"{:.1f}\" fill=\"#444444\" "
        "text-anchor=\"middle\">{}</text>\n",
        g.x(c) + g.w / 2, g.top - 0.35 * g.size, g.size, c);
  for (int r = 0; r < map.shape.rows; r += every(g.h))
    out += fmt::format(
        "<text x=\"{:.1f}\" y=\"{:.1f}\" font-size=\"{:.1f}\" fill=\"#444444\" "
        "text-anchor=\"end\">{}</text>\n",
        g.left - 0.4 * g.size, g.y(r) + g.h / 2 + 0.36 * g.size, g.size, r);
  return out;
}

// Numbers are drawn where a reader can tell them apart.
constexpr int kMostNumberedLines = 24;

std::string node(const HeatMap& map, const Grid& g, int row, int col, double full) {
  const int counts = map.counts[static_cast<std::size_t>(row * map.shape.cols + col)];
  const double percent = 100.0 * counts / map.finger_counts;
  const double x = g.x(col), y = g.y(row);
  std::string out = rect(x, y, g.w, g.h,
                         fmt::format("fill=\"{}\" stroke=\"#bdbdbd\" stroke-width=\"0.6\"",
                                     hex(diverging_colour(percent / full))));
  if (2 * std::abs(counts) < map.limit) return out;
  if (counts < 0) out += rect(x, y, g.w, g.h, "fill=\"url(#opposite)\"");
  if (std::max(map.shape.rows, map.shape.cols) > kMostNumberedLines) return out;
  // A sign and three digits are as wide as the node in the size that suits a sign and two.
  const double size = (std::abs(percent) < 99.5 ? 0.38 : 0.3) * std::min(g.w, g.h);
  out += fmt::format(
      "<text x=\"{:.1f}\" y=\"{:.1f}\" fill=\"{}\" font-size=\"{:.1f}\" "
      "text-anchor=\"middle\">{}</text>\n",
      x + g.w / 2, y + g.h / 2 + 0.4 * size,
      std::abs(percent / full) > 0.55 ? "#ffffff" : "#111111", size,
      fmt::format("{}{}", counts < 0 ? "\xE2\x88\x92" : "+", std::abs(std::lround(percent))));
  return out;
}

}  // namespace

std::string map_patterns() {
  return "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"0\" height=\"0\" "
         "class=\"patterns\" aria-hidden=\"true\"><defs>\n"
         "<pattern id=\"opposite\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\" "
         "patternTransform=\"rotate(45)\"><rect width=\"1.6\" height=\"9\" fill=\"#000000\" "
         "fill-opacity=\"0.35\"/></pattern>\n"
         "<pattern id=\"off\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
         "patternTransform=\"rotate(45)\"><rect width=\"7\" height=\"7\" fill=\"#ffffff\"/>"
         "<rect width=\"2.4\" height=\"7\" fill=\"#333333\"/></pattern>\n"
         "</defs></svg>\n";
}

std::string difference_map(const HeatMap& map) {
  const Grid g = grid_of(map, true);
  std::string out = begin(map, g, map.title);
  const double full = full_scale_percent(map);
  for (int r = 0; r < map.shape.rows; ++r)
    for (int c = 0; c < map.shape.cols; ++c) out += node(map, g, r, c, full);
  out += line_numbers(map, g) + outlines(map, g);
  if (map.mark && map.outlines.empty()) out += box_ring(*map.mark, g, 0.16 * g.size + 2.0);
  return out + "</svg>\n";
}

std::string difference_scale(const HeatMap& map) {
  const double full = full_scale_percent(map);
  constexpr int kSteps = 20;
  constexpr double kStep = 20.0;
  std::string out =
      "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-label=\"Scale\" viewBox=\"0 0 "
      "404 56\" font-family=\"sans-serif\" class=\"scale\">\n";
  for (int k = 0; k < kSteps; ++k) {
    const double share = -1.0 + 2.0 * (k + 0.5) / kSteps;
    const double x = 2 + k * kStep;
    out += rect(x, 2, kStep, 22, fmt::format("fill=\"{}\"", hex(diverging_colour(share))));
    if (share < 0) out += rect(x, 2, kStep, 22, "fill=\"url(#opposite)\"");
  }
  out += rect(2, 2, kSteps * kStep, 22, "fill=\"none\" stroke=\"#444444\" stroke-width=\"1\"");
  const auto label = [&](double x, const char* anchor, const std::string& text) {
    out += fmt::format(
        "<text x=\"{:.0f}\" y=\"46\" font-size=\"19\" fill=\"#111111\" "
        "text-anchor=\"{}\">{}</text>\n",
        x, anchor, text);
  };
  label(2, "start", fmt::format("\xE2\x88\x92{:.0f} %", full));
  label(202, "middle", "0");
  label(402, "end", fmt::format("+{:.0f} %", full));
  return out + "</svg>\n";
}

std::string level_map(const HeatMap& like, const std::vector<std::uint16_t>& counts, int low,
                      int high, const std::string& label) {
  const Grid g = grid_of(like, false);
  std::string out = begin(like, g, label);
  const double span = std::max(1, high - low);
  for (int r = 0; r < like.shape.rows; ++r)
    for (int c = 0; c < like.shape.cols; ++c) {
      const int v = counts[static_cast<std::size_t>(r * like.shape.cols + c)];
      // Even steps of sRGB grey are near even steps of lightness (the transfer function of
      // IEC 61966-2-1 is close to that of CIE L*).
      const auto grey = static_cast<std::uint8_t>(
          std::lround(40.0 + 205.0 * std::clamp((v - low) / span, 0.0, 1.0)));
      out += rect(g.x(c), g.y(r), g.w, g.h,
                  fmt::format("fill=\"{}\" stroke=\"#bdbdbd\" stroke-width=\"0.6\"",
                              hex({grey, grey, grey})));
    }
  if (like.mark) out += box_ring(*like.mark, g, 5.0);
  return out + "</svg>\n";
}

std::string glass_sketch(const HeatMap& map, const std::string& label) {
  const double w = map.pitch_col_mm * kUnit, h = map.pitch_row_mm * kUnit;
  const double width = map.shape.cols * w, height = map.shape.rows * h;
  const double rim = 0.07 * std::max(width, height);
  const Grid g{w, h, rim, rim, 0.0};
  std::string out = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-label=\"{}\" viewBox=\"0 0 "
      "{:.0f} {:.0f}\" font-family=\"sans-serif\">\n",
      escaped(label), width + 2 * rim, height + 2 * rim);
  out += rect(2, 2, width + 2 * rim - 4, height + 2 * rim - 4,
              fmt::format("rx=\"{:.0f}\" fill=\"#e4e4e4\" stroke=\"#111111\" stroke-width=\"4\"",
                          0.7 * rim));
  out += rect(rim, rim, width, height, "fill=\"#ffffff\" stroke=\"#111111\" stroke-width=\"3\"");
  const double full = full_scale_percent(map) * map.finger_counts / 100.0;
  for (int r = 0; r < map.shape.rows; ++r)
    for (int c = 0; c < map.shape.cols; ++c) {
      const int counts = map.counts[static_cast<std::size_t>(r * map.shape.cols + c)];
      if (2 * std::abs(counts) < map.limit) continue;
      out += rect(g.x(c), g.y(r), w, h,
                  fmt::format("fill=\"{}\"", hex(diverging_colour(counts / full))));
      if (counts < 0) out += rect(g.x(c), g.y(r), w, h, "fill=\"url(#opposite)\"");
    }
  if (map.mark) out += box_ring(*map.mark, g, 0.09 * rim + 5.0);
  return out + "</svg>\n";
}

}  // namespace bareglass::host::report
