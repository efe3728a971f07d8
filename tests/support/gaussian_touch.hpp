#pragma once
// Differences of synthetic fingers for tests of the contact stage: Gaussian bumps without noise, or
// with, added into a difference frame.

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

#include "bareglass/core/contacts.hpp"
#include "bareglass/core/regions.hpp"
#include "bareglass/core/settings.hpp"

namespace bareglass::support {

class DifferenceFrame {
 public:
  explicit DifferenceFrame(Shape shape)
      : shape_(shape), value_(static_cast<std::size_t>(shape.nodes()), 0.0) {}

  /// A bump with `peak` counts at its centre and `neighbour` of that one line away.
  DifferenceFrame& add(double row, double col, double peak, double neighbour = 0.355) {
    for (int r = 0; r < shape_.rows; ++r)
      for (int c = 0; c < shape_.cols; ++c) {
        const double d2 = (r - row) * (r - row) + (c - col) * (c - col);
        value_[at(r, c)] += peak * std::exp(std::log(neighbour) * d2);
      }
    return *this;
  }
  DifferenceFrame& set(int row, int col, double counts) {
    value_[at(row, col)] = counts;
    return *this;
  }
  DifferenceFrame& fill(int row0, int row1, int col0, int col1, double counts) {
    for (int r = row0; r <= row1; ++r)
      for (int c = col0; c <= col1; ++c) set(r, c, counts);
    return *this;
  }
  std::vector<std::int16_t> counts() const {
    std::vector<std::int16_t> out;
    for (const double v : value_)
      out.push_back(static_cast<std::int16_t>(std::clamp(std::lround(v), -32767L, 32767L)));
    return out;
  }
  Shape shape() const { return shape_; }

 private:
  std::size_t at(int r, int c) const { return static_cast<std::size_t>(r * shape_.cols + c); }

  Shape shape_;
  std::vector<double> value_;
};

/// Regions and peaks of one difference frame, as the engine finds them.
struct PeakFinder {
  explicit PeakFinder(const Settings& s) : settings(s), limits(limits_of(s)) {}

  const PeakList& find(const DifferenceFrame& frame) {
    difference = frame.counts();
    label.assign(difference.size(), 0);
    const std::vector<std::uint8_t> busy(static_cast<std::size_t>(settings.shape.rows), 1);
    find_regions(regions, {label.data(), label.size()}, {difference.data(), difference.size()},
                 {busy.data(), busy.size()}, settings.shape, limits.surface);
    mark_two_signed(regions);
    find_peaks(peaks, regions, {label.data(), label.size()}, {difference.data(), difference.size()},
               settings, limits, sigma_q4);
    return peaks;
  }

  Settings settings;
  Limits limits;
  RegionTable regions;
  PeakList peaks;
  std::vector<std::int16_t> difference;
  std::vector<std::uint8_t> label;
  std::int32_t sigma_q4 = 0;
};

inline Settings contact_settings(Shape shape) {
  Settings s;
  s.shape = shape;
  s.finger_counts = 3500;
  return s;
}

}  // namespace bareglass::support
