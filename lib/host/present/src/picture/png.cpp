#include <png.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <stdexcept>

#include "bareglass/present/heat_map.hpp"

namespace bareglass::host {

namespace {

constexpr int kPixelsPerMm = 8;

struct Canvas {
  int width, height;
  std::vector<std::uint8_t> rgb;

  Canvas(int w, int h)
      : width(w),
        height(h),
        rgb(static_cast<std::size_t>(w) * static_cast<std::size_t>(h) * 3, 255) {}
  void set(int x, int y, Rgb c) {
    if (x < 0 || y < 0 || x >= width || y >= height) return;
    std::uint8_t* p = &rgb[(static_cast<std::size_t>(y) * static_cast<std::size_t>(width) +
                            static_cast<std::size_t>(x)) *
                           3];
    p[0] = c.r;
    p[1] = c.g;
    p[2] = c.b;
  }
  void fill(int x0, int y0, int x1, int y1, Rgb c) {
    for (int y = y0; y < y1; ++y)
      for (int x = x0; x < x1; ++x) set(x, y, c);
  }
};

// Digits 0-9, plus, minus: five rows of three pixels, most significant bit left.
constexpr std::uint8_t kGlyph[12][5] = {{7, 5, 5, 5, 7}, {2, 6, 2, 2, 7}, {7, 1, 7, 4, 7},
                                        {7, 1, 7, 1, 7}, {5, 5, 7, 1, 1}, {7, 4, 7, 1, 7},
                                        {7, 4, 7, 5, 7}, {7, 1, 2, 2, 2}, {7, 5, 7, 5, 7},
                                        {7, 5, 7, 1, 7}, {0, 2, 7, 2, 0}, {0, 0, 7, 0, 0}};

void draw_glyph(Canvas& canvas, int x, int y, int glyph, int scale, Rgb ink) {
  for (int row = 0; row < 5; ++row)
    for (int col = 0; col < 3; ++col)
      if (kGlyph[glyph][row] & (4 >> col))
        canvas.fill(x + col * scale, y + row * scale, x + (col + 1) * scale, y + (row + 1) * scale,
                    ink);
}

void draw_number(Canvas& canvas, int cx, int cy, long value, int scale, Rgb ink) {
  const std::string digits = std::to_string(std::labs(value));
  const int width = static_cast<int>(digits.size() + 1) * 4 * scale - scale;
  int x = cx - width / 2;
  const int y = cy - 5 * scale / 2;
  draw_glyph(canvas, x, y, value < 0 ? 11 : 10, scale, ink);
  for (const char d : digits) draw_glyph(canvas, x += 4 * scale, y, d - '0', scale, ink);
}

void draw_cell(Canvas& canvas, const HeatMap& map, int row, int col, int w, int h, double full) {
  const int counts = map.counts[static_cast<std::size_t>(row * map.shape.cols + col)];
  const double percent = 100.0 * counts / map.finger_counts;
  const Rgb colour = diverging_colour(percent / full);
  const int x = col * w;
  const int y = row * h;
  canvas.fill(x, y, x + w, y + h, {200, 200, 200});
  canvas.fill(x, y, x + w - 1, y + h - 1, colour);
  if (2 * std::abs(counts) < map.limit) return;
  const auto dim = [](std::uint8_t v) { return static_cast<std::uint8_t>(v * 7 / 10); };
  if (counts < 0)
    for (int j = 0; j < h - 1; ++j)
      for (int i = 0; i < w - 1; ++i)
        if ((i + j) % 8 < 2)
          canvas.set(x + i, y + j, {dim(colour.r), dim(colour.g), dim(colour.b)});
  const Rgb ink = std::abs(percent / full) > 0.6 ? Rgb{255, 255, 255} : Rgb{20, 20, 20};
  draw_number(canvas, x + w / 2, y + h / 2, std::lround(percent),
              std::max(1, std::min(w / 18, h / 9)), ink);
}

void draw_dot(Canvas& canvas, double x, double y, int half, Rgb ink) {
  const int cx = static_cast<int>(std::lround(x)), cy = static_cast<int>(std::lround(y));
  canvas.fill(cx - half, cy - half, cx + half + 1, cy + half + 1, ink);
}

/// `dash`: pixels on and off, 0: unbroken.
void draw_ring(Canvas& canvas, const GlassOutline& ring, double px_x, double px_y, int half,
               int dash, Rgb ink) {
  double along = 0.0;
  for (std::size_t k = 0; k < ring.size(); ++k) {
    const GlassPoint& a = ring[k];
    const GlassPoint& b = ring[(k + 1) % ring.size()];
    const double length = std::hypot((b.x - a.x) * px_x, (b.y - a.y) * px_y);
    for (double s = 0.0; s < length; s += 0.5, along += 0.5) {
      if (dash > 0 && static_cast<int>(along / dash) % 2 == 1) continue;
      const double part = s / length;
      draw_dot(canvas, (a.x + part * (b.x - a.x)) * px_x, (a.y + part * (b.y - a.y)) * px_y, half,
               ink);
    }
  }
}

void draw_outlines(Canvas& canvas, const HeatMap& map, int w, int h) {
  const double px_x = w / map.pitch_col_mm, px_y = h / map.pitch_row_mm;
  constexpr int kDash = 5;
  const Rgb ink{20, 20, 20};
  for (const OutlineDrawn& o : map.outlines) {
    for (const GlassOutline* bound : {&o.inner, &o.outer})
      draw_ring(canvas, *bound, px_x, px_y, 0, kDash, ink);
    draw_ring(canvas, o.at, px_x, px_y, 2, 0, {255, 255, 255});
    draw_ring(canvas, o.at, px_x, px_y, 1, 0, ink);
  }
}

void draw_mark(Canvas& canvas, const Box& b, int w, int h) {
  constexpr int kThick = 3;
  const int x0 = b.col0 * w;
  const int y0 = b.row0 * h;
  const int x1 = (b.col1 + 1) * w;
  const int y1 = (b.row1 + 1) * h;
  const Rgb ink{20, 20, 20};
  canvas.fill(x0, y0, x1, y0 + kThick, ink);
  canvas.fill(x0, y1 - kThick, x1, y1, ink);
  canvas.fill(x0, y0, x0 + kThick, y1, ink);
  canvas.fill(x1 - kThick, y0, x1, y1, ink);
}

Canvas drawn(const HeatMap& map) {
  const int w = std::max(8, static_cast<int>(std::lround(map.pitch_col_mm * kPixelsPerMm)));
  const int h = std::max(8, static_cast<int>(std::lround(map.pitch_row_mm * kPixelsPerMm)));
  Canvas canvas(map.shape.cols * w, map.shape.rows * h);
  const double full = full_scale_percent(map);
  for (int r = 0; r < map.shape.rows; ++r)
    for (int c = 0; c < map.shape.cols; ++c) draw_cell(canvas, map, r, c, w, h, full);
  draw_outlines(canvas, map, w, h);
  if (map.mark && map.outlines.empty()) draw_mark(canvas, *map.mark, w, h);
  return canvas;
}

std::string encoded(const Canvas& canvas) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(canvas.width);
  image.height = static_cast<png_uint_32>(canvas.height);
  image.format = PNG_FORMAT_RGB;
  png_alloc_size_t size = 0;
  if (!png_image_write_get_memory_size(image, size, 0, canvas.rgb.data(), 0, nullptr))
    throw std::runtime_error(std::string("libpng: ") + image.message);
  std::string bytes(size, '\0');
  if (!png_image_write_to_memory(&image, bytes.data(), &size, 0, canvas.rgb.data(), 0, nullptr))
    throw std::runtime_error(std::string("libpng: ") + image.message);
  bytes.resize(size);
  return bytes;
}

}  // namespace

std::string heat_map_png(const HeatMap& map) { return encoded(drawn(map)); }

std::string heat_maps_png(const std::vector<HeatMap>& maps) {
  constexpr int kGap = 24;
  std::vector<Canvas> all;
  int width = -kGap, height = 0;
  for (const HeatMap& map : maps) {
    all.push_back(drawn(map));
    width += all.back().width + kGap;
    height = std::max(height, all.back().height);
  }
  Canvas out(std::max(1, width), std::max(1, height));
  int left = 0;
  for (const Canvas& one : all) {
    for (int y = 0; y < one.height; ++y)
      std::copy_n(one.rgb.begin() + static_cast<std::ptrdiff_t>(y) * one.width * 3, one.width * 3,
                  out.rgb.begin() + (static_cast<std::ptrdiff_t>(y) * out.width + left) * 3);
    left += one.width + kGap;
  }
  return encoded(out);
}

}  // namespace bareglass::host
