#pragma once
// Seeded raw frames from integer arithmetic alone: an x86-64 host and a microcontroller make the
// same ones, bit for bit. For benchmarks and cross-target checks, not for physics: fingers are
// Gaussian bumps, noise is what a quiet front end shows. Freestanding, as the core is.

#include <cstdint>

#include "bareglass/core/types.hpp"

namespace bareglass::test {

/// Marsaglia's 32-bit xorshift with the shift triple 13, 17, 5 (Xorshift RNGs, Journal of
/// Statistical Software 8(14), 2003). The seed must not be zero.
class Xorshift32 {
 public:
  explicit constexpr Xorshift32(std::uint32_t seed) : state_(seed) {}
  constexpr std::uint32_t next() {
    state_ ^= state_ << 13;
    state_ ^= state_ >> 17;
    state_ ^= state_ << 5;
    return state_;
  }
  /// Sum of four uniform bytes around zero, divided by 32: standard deviation 4.6 counts.
  constexpr std::int32_t noise() {
    const std::uint32_t v = next();
    const std::uint32_t sum = (v & 255u) + (v >> 8 & 255u) + (v >> 16 & 255u) + (v >> 24);
    return (static_cast<std::int32_t>(sum) - 510) >> 5;
  }

 private:
  std::uint32_t state_;
};

/// A finger: centre in 1/256 pitch (0 is the centre of line 0) and peak signal in counts.
struct SyntheticTouch {
  std::int32_t y_q8 = 0, x_q8 = 0;
  std::int32_t counts = 3500;
};

/// 0.355^(x * x) in Q15 for x = 0, 1/8, ... 3 pitches: the profile of a finger whose next line
/// shows 355 permille of its peak, as in Settings::neighbour_permille.
constexpr std::int32_t kProfileQ15[] = {
    32768, 32242, 30714, 28327, 25293, 21865, 18300, 14828, 11633, 8835, 6497, 4625, 3188,
    2127,  1374,  859,   520,   305,   173,   95,    51,    26,    13,   6,    3};
constexpr int kProfileSteps = static_cast<int>(sizeof(kProfileQ15) / sizeof(kProfileQ15[0]));

constexpr std::int32_t profile_q15(std::int32_t distance_q8) {
  const std::int32_t at = (distance_q8 < 0 ? -distance_q8 : distance_q8) >> 5;
  return at < kProfileSteps ? kProfileQ15[at] : 0;
}

/// The bare panel: a level that falls gently along rows and columns, with weaker border lines.
constexpr std::int32_t bare_counts(Shape shape, int row, int col) {
  const std::int32_t row_border = row == 0 || row == shape.rows - 1 ? 900 : 0;
  const std::int32_t col_border = col == 0 || col == shape.cols - 1 ? 900 : 0;
  return 30000 - 12 * row - 9 * col - row_border - col_border;
}

/// Fills `raw` (rows * cols counts) with one scan: bare panel, touches, one common shift per
/// scanned row, and noise of every node.
inline void make_frame(View<std::uint16_t> raw, Shape shape, Xorshift32& random,
                       View<const SyntheticTouch> touches) {
  for (int r = 0; r < shape.rows; ++r) {
    const std::int32_t shift = random.noise();
    for (int c = 0; c < shape.cols; ++c) {
      std::int32_t v = bare_counts(shape, r, c) + shift + random.noise();
      for (const SyntheticTouch& t : touches) {
        const std::int32_t down = profile_q15(r * 256 - t.y_q8);
        if (down == 0) continue;
        const std::int32_t both = down * (profile_q15(c * 256 - t.x_q8) >> 3) >> 12;
        v -= t.counts * (both >> 1) >> 14;
      }
      raw[static_cast<std::size_t>(r * shape.cols + c)] = static_cast<std::uint16_t>(v);
    }
  }
}

/// Where finger `k` of `count` is in frame `n`: the fingers share the panel as a grid of two rows
/// and each wanders up to half a pitch both ways, so that they never meet.
constexpr SyntheticTouch wandering_touch(Shape shape, int k, int count, std::uint32_t n) {
  const int across = (count + 1) / 2;
  const std::int32_t wave = static_cast<std::int32_t>((n * 5u) & 255u);
  const std::int32_t sway = (wave < 128 ? wave : 255 - wave) - 64;
  SyntheticTouch t;
  t.y_q8 = shape.rows * 256 * (1 + 2 * (k % 2)) / 4 + sway;
  t.x_q8 = shape.cols * 256 * (1 + 2 * (k / 2)) / (2 * across) - sway;
  return t;
}

}  // namespace bareglass::test
