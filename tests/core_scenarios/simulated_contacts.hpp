#pragma once
// Difference frames of contacts on the shipped panels, from their surface kernels: milliseconds
// each. A field keeps its shape when everything is made larger alike, so the shipped panel of 5 mm
// pitch under 1.1 mm of glass, its contacts 5/3 as large, is one of 3 mm pitch under 0.66 mm.

#include <cmath>
#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "bareglass/core/single_frame.hpp"
#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/surface_model.hpp"

namespace bareglass::support {

constexpr int kLines = 20;  // each way
constexpr double kShippedPitchMm = 5.0;
constexpr int kFinger = 3500;  // counts

/// Shares of an 8 mm finger, row-major; kLines each way.
using Shares = std::vector<double>;

inline field::Footprint ellipse(double width_mm, double height_mm, double turned_deg) {
  field::Polygon outline;
  const double turn = turned_deg * M_PI / 180;
  for (int k = 0; k < 48; ++k) {
    const double a = 2 * M_PI * k / 48;
    const double x = width_mm / 2 * std::cos(a);
    const double y = height_mm / 2 * std::sin(a);
    outline.corners.push_back(
        {x * std::cos(turn) - y * std::sin(turn), x * std::sin(turn) + y * std::cos(turn)});
  }
  return field::Footprint({outline});
}

class SimulatedGlass {
 public:
  /// `glass`: as in the names of the shipped panels, "1_1".
  explicit SimulatedGlass(const std::string& glass)
      : model_(field::load_kernels(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_" +
                                   glass + ".kernels")) {
    finger_ff_ = 1.0;
    const Shares disc = contact(cut(field::Footprint::disc({0, 0}, 8)), 5, 10, 10);
    finger_ff_ = disc[10 * kLines + 10];
  }

  /// A footprint about the origin, for many places.
  field::PatchedObject cut(const field::Footprint& footprint) const {
    field::PatchedObject object = model_.cut(footprint);
    if (object.factorised()) model_.prepare(object);
    return object;
  }

  /// The thing at (row, column), pitches; a person's 150 pF to earth, which grow with the panel.
  Shares contact(const field::PatchedObject& thing, double pitch_mm, double row, double col) const {
    const field::Point there{col * kShippedPitchMm, row * kShippedPitchMm};
    const field::LineRange lines{kLines, kLines};
    const field::Coupling coupling = thing.factorised()
                                         ? model_.couple(thing, there, lines)
                                         : model_.quick(thing.footprint().moved(there), lines, 0.5);
    const double earth_ff = 150000 * kShippedPitchMm / pitch_mm;
    Shares shares(kLines * kLines);
    for (int r = 0; r < kLines; ++r)
      for (int c = 0; c < kLines; ++c)
        shares[static_cast<std::size_t>(r * kLines + c)] =
            -coupling.change(r, c, earth_ff) / finger_ff_;
    return shares;
  }

 private:
  field::SurfaceModel model_;
  double finger_ff_ = 1.0;
};

/// Noise of `sigma` counts on top.
inline std::vector<std::int16_t> counts_of(const Shares& shares, double sigma,
                                           std::mt19937& random) {
  std::normal_distribution<double> noise(0, 1);
  std::vector<std::int16_t> counts;
  for (const double share : shares)
    counts.push_back(
        static_cast<std::int16_t>(std::lround(kFinger * share + sigma * noise(random))));
  return counts;
}

/// The detector at the panel of this pitch.
class Detector {
 public:
  explicit Detector(double pitch_mm, int rows = kLines, int cols = kLines) {
    settings.shape = {rows, cols};
    settings.finger_counts = kFinger;
    settings.pitch_row_um = settings.pitch_col_um = static_cast<std::uint16_t>(pitch_mm * 1000);
  }
  const PeakList& find(const std::vector<std::int16_t>& difference) {
    wrong = frame.find(storage.memory(), {difference.data(), difference.size()}, settings);
    return frame.peaks;
  }

  Settings settings;
  SettingsField wrong = SettingsField::none;
  SingleFrame frame;

 private:
  Storage<kLines, kLines> storage;
};

}  // namespace bareglass::support
