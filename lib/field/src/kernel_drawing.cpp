#include "bareglass/field/kernel_drawing.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <functional>

namespace bareglass::field {

namespace {

constexpr double kMapSize = 300.0;  // user units
constexpr double kGap = 40.0;
constexpr double kTop = 60.0;
constexpr int kCells = 60;
constexpr double kReach = 1.5;  // pitches either way

[[gnu::format(printf, 1, 2)]] std::string print(const char* format, ...) {
  std::array<char, 400> text{};
  va_list arguments;
  va_start(arguments, format);
  std::vsnprintf(text.data(), text.size(), format, arguments);
  va_end(arguments);
  return text.data();
}

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : text)
    out += c == '&' ? "&amp;" : c == '<' ? "&lt;" : c == '>' ? "&gt;" : std::string(1, c);
  return out;
}

/// One map: a function of the place relative to the node, mm, and what it is.
struct Map {
  const char* title;
  std::function<double(double x, double y)> value;
};

/// White for nothing to dark blue for `part` = 1.
std::string colour(double part) {
  const double p = std::sqrt(std::clamp(part, 0.0, 1.0));
  const auto mix = [p](int end) { return static_cast<int>(std::lround(255 + p * (end - 255))); };
  return print("#%02x%02x%02x", mix(8), mix(48), mix(107));
}

/// Outlines of bars and stripes.
std::string bar_edges(const SurfaceKernels& k, const PanelSpec& panel, double x_unit,
                      double y_unit) {
  std::string out;
  for (int line = -1; line <= 1; ++line) {
    const double x = (line + kReach) * k.column_pitch_mm - 0.5 * panel.columns.width_mm;
    const double y = (line + kReach) * k.row_pitch_mm - 0.5 * panel.rows.width_mm;
    out += print("<rect x=\"%g\" y=\"0\" width=\"%g\" height=\"%g\" class=\"edge\"/>\n", x * x_unit,
                 panel.columns.width_mm * x_unit, kMapSize);
    out += print("<rect x=\"0\" y=\"%g\" width=\"%g\" height=\"%g\" class=\"edge\"/>\n", y * y_unit,
                 kMapSize, panel.rows.width_mm * y_unit);
  }
  return out;
}

/// Outlines of the diamonds, necks left out, clipped to the map by leaving out those across its
/// rim.
std::string diamond_edges(const Diamonds& d, double unit) {
  std::string out;
  const double middle = kReach * d.pitch_mm;
  const double tip = 0.5 * d.pitch_mm - d.gap_mm / std::sqrt(2.0);
  for (int m = -3; m <= 3; ++m) {
    for (int n = -3; n <= 3; ++n) {
      if ((m + n) % 2 == 0) continue;
      const double x = middle + 0.5 * m * d.pitch_mm;
      const double y = middle + 0.5 * n * d.pitch_mm;
      if (std::min(x, y) < tip || std::max(x, y) > 2.0 * middle - tip) continue;
      out += print("<path d=\"M%g %gL%g %gL%g %gL%g %gZ\" class=\"edge\"/>\n", (x - tip) * unit,
                   y * unit, x * unit, (y - tip) * unit, (x + tip) * unit, y * unit, x * unit,
                   (y + tip) * unit);
    }
  }
  return out;
}

std::string draw_map(const Map& map, const SurfaceKernels& k, const PanelSpec& panel, double left) {
  const double x_unit = kMapSize / (2.0 * kReach * k.column_pitch_mm);
  const double y_unit = kMapSize / (2.0 * kReach * k.row_pitch_mm);
  const auto place = [](int cell, double pitch) {
    return ((cell + 0.5) / kCells - 0.5) * 2.0 * kReach * pitch;
  };
  double most = 0.0;
  for (int j = 0; j < kCells; ++j)
    for (int i = 0; i < kCells; ++i)
      most = std::max(most, map.value(place(i, k.column_pitch_mm), place(j, k.row_pitch_mm)));
  if (most <= 0.0) most = 1.0;
  const double size = kMapSize / kCells;
  std::string out = print("<g transform=\"translate(%g %g)\">\n", left, kTop);
  for (int j = 0; j < kCells; ++j) {
    for (int i = 0; i < kCells; ++i) {
      const double value = map.value(place(i, k.column_pitch_mm), place(j, k.row_pitch_mm));
      // Overlap by a hair, so that no seams show.
      out += print("<rect x=\"%g\" y=\"%g\" width=\"%g\" height=\"%g\" fill=\"%s\"/>\n", i * size,
                   j * size, size + 0.2, size + 0.2, colour(value / most).c_str());
    }
  }
  out +=
      panel.diamonds ? diamond_edges(*panel.diamonds, x_unit) : bar_edges(k, panel, x_unit, y_unit);
  out += print("<text y=\"-8\">%s, at most %.3g fF/mm\u00b2</text>\n</g>\n", map.title, most);
  return out;
}

}  // namespace

std::string draw_kernels(const SurfaceKernels& k, const PanelSpec& panel) {
  const auto sum = [](const Kernel& kernel, auto&& product) {
    double out = 0.0;
    for (const Separable& term : kernel.terms) out += product(term);
    return out;
  };
  const std::array<Map, 3> maps = {{
      {"loss w",
       [&](double x, double y) {
         return sum(k.loss, [&](const Separable& t) { return t.x.local(x) * t.y.local(y); });
       }},
      {"row charge q_T",
       [&](double x, double y) {
         return sum(k.q_row, [&](const Separable& t) {
           return t.x.periodic(x, k.column_pitch_mm) * t.y.local(y);
         });
       }},
      {"column charge q_R",
       [&](double x, double y) {
         return sum(k.q_column, [&](const Separable& t) {
           return t.x.local(x) * t.y.periodic(y, k.row_pitch_mm);
         });
       }},
  }};
  const double width = 3 * kMapSize + 4 * kGap;
  const double height = kTop + kMapSize + 50.0;
  std::string out = print(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %g %g\" font-family=\"sans-serif\" "
      "font-size=\"14\">\n<style>.edge{fill:none;stroke:#c60;stroke-width:0.8}</style>\n"
      "<rect width=\"%g\" height=\"%g\" fill=\"white\"/>\n",
      width, height, width, height);
  out +=
      print("<text x=\"%g\" y=\"24\" font-size=\"17\">", kGap) + escaped(panel.name) + "</text>\n";
  double left = kGap;
  for (const Map& map : maps) {
    out += draw_map(map, k, panel, left);
    left += kMapSize + kGap;
  }
  out += print(
      "<text x=\"%g\" y=\"%g\">%.3g \u00d7 %.3g mm around a node; rows run across, columns up and "
      "down; shade by the square root</text>\n</svg>\n",
      kGap, height - 18.0, 2 * kReach * k.column_pitch_mm, 2 * kReach * k.row_pitch_mm);
  return out;
}

}  // namespace bareglass::field
