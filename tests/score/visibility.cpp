#include "visibility.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::score {

namespace {

/// Readings without noise, fF, frames x nodes.
std::vector<std::vector<double>> readings(panel::Scenario s) {
  s.setup.front_end.noise_ff = 0.0;
  panel::SimulatedPanel simulated(s.panel, panel::kernels_of(s.panel, s.panel_path), s.setup);
  panel::Timeline timeline(s);
  std::vector<std::vector<double>> out;
  std::vector<std::uint16_t> counts;
  const double frames = std::floor(s.duration_s / (s.frame_period_us * 1e-6));
  for (int k = 0; k < kSampled; ++k) {
    // Whole frame periods, so that what the frames alias is aliased here too.
    const auto n = static_cast<std::uint64_t>(1.0 + (frames - 1.0) * k / (kSampled - 1.0));
    const std::uint64_t t_us = n * s.frame_period_us;
    simulated.scan(counts, timeline.at(static_cast<double>(t_us) * 1e-6), t_us);
    std::vector<double> ff(counts.size());
    for (std::size_t i = 0; i < ff.size(); ++i) ff[i] = counts[i] / s.setup.front_end.counts_per_ff;
    out.push_back(std::move(ff));
  }
  return out;
}

using Frames = std::vector<std::vector<double>>;

Frames difference(const panel::Scenario& scenario, const panel::Scenario& twin) {
  Frames a = readings(twin);
  const Frames b = readings(scenario);
  for (std::size_t k = 0; k < a.size(); ++k)
    for (std::size_t i = 0; i < a[k].size(); ++i) a[k][i] -= b[k][i];
  return a;
}

double mean_of(const std::vector<double>& values) {
  double sum = 0;
  for (const double v : values) sum += v;
  return sum / static_cast<double>(values.size());
}

/// Takes from each frame what all its nodes share, if it is no more than the gain drifts.
void take_drift(Frames& d, const panel::Scenario& twin) {
  const double level = mean_of(readings(twin).front());
  for (std::vector<double>& frame : d) {
    const double shared = mean_of(frame);
    if (std::abs(shared) > kDrift * level) continue;
    for (double& v : frame) v -= shared;
  }
}

double sum_of_squares(const std::vector<double>& d) {
  double sum = 0;
  for (const double v : d) sum += v * v;
  return sum;
}

void take_mean_over_time(Frames& d) {
  for (std::size_t i = 0; i < d.front().size(); ++i) {
    double sum = 0;
    for (const std::vector<double>& frame : d) sum += frame[i];
    for (std::vector<double>& frame : d) frame[i] -= sum / static_cast<double>(d.size());
  }
}

/// Takes from each border line its mean.
void take_border_levels(std::vector<double>& d, int rows, int columns) {
  const auto line = [&](bool of_rows, int k) {
    const int n = of_rows ? columns : rows;
    const auto at = [&](int i) -> double& {
      return d[static_cast<std::size_t>(of_rows ? k * columns + i : i * columns + k)];
    };
    double sum = 0;
    for (int i = 0; i < n; ++i) sum += at(i);
    for (int i = 0; i < n; ++i) at(i) -= sum / n;
  };
  line(true, 0);
  line(true, rows - 1);
  line(false, 0);
  line(false, columns - 1);
}

}  // namespace

bool is_visible(const panel::Scenario& s, const panel::Scenario& twin) {
  Frames d = difference(s, twin);
  take_drift(d, twin);
  std::vector<double> at_first = d.front();
  if (!s.factory_reference) take_mean_over_time(d);
  const double frames = s.duration_s / (s.frame_period_us * 1e-6) / kSampled;
  double changes = 0;
  for (const std::vector<double>& frame : d) changes += sum_of_squares(frame);
  if (std::sqrt(changes * frames) >= kSnr * s.setup.front_end.noise_ff) return true;
  if (s.factory_reference) return false;
  take_border_levels(at_first, s.setup.rows, s.setup.columns);
  const double mean = mean_of(at_first);
  for (double& v : at_first) v -= mean;
  return std::sqrt(sum_of_squares(at_first)) >= kSpreadRatio * s.setup.front_end.spread_ff;
}

}  // namespace bareglass::score
