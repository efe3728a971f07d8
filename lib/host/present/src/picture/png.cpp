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

}  // namespace

std::string heat_map_png(const HeatMap& map) {
  const int w = std::max(8, static_cast<int>(std::lround(map.pitch_col_mm * kPixelsPerMm)));
  const int h = std::max(8, static_cast<int>(std::lround(map.pitch_row_mm * kPixelsPerMm)));
  Canvas canvas(map.shape.cols * w, map.shape.rows * h);
  const double full = full_scale_percent(map);
  for (int r = 0; r < map.shape.rows; ++r)
    for (int c = 0; c < map.shape.cols; ++c) draw_cell(canvas, map, r, c, w, h, full);
  if (map.mark) draw_mark(canvas, *map.mark, w, h);

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

}  // namespace bareglass::host
