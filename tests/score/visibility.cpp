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

std::vector<std::vector<double>> difference(const panel::Scenario& scenario,
                                            const panel::Scenario& twin) {
  std::vector<std::vector<double>> a = readings(twin);
  const std::vector<std::vector<double>> b = readings(scenario);
  for (std::size_t k = 0; k < a.size(); ++k)
    for (std::size_t i = 0; i < a[k].size(); ++i) a[k][i] -= b[k][i];
  return a;
}

double sum_of_squares(const std::vector<double>& d, const std::vector<double>& less) {
  double sum = 0;
  for (std::size_t i = 0; i < d.size(); ++i) sum += (d[i] - less[i]) * (d[i] - less[i]);
  return sum;
}

}  // namespace

bool is_visible(const panel::Scenario& s, const panel::Scenario& twin) {
  const std::vector<std::vector<double>> d = difference(s, twin);
  const std::vector<double> zero(d[0].size(), 0.0);
  const double frames = s.duration_s / (s.frame_period_us * 1e-6) / kSampled;
  double changes = 0;
  for (const std::vector<double>& at : d)
    changes += sum_of_squares(at, s.factory_reference ? zero : d[0]);
  if (std::sqrt(changes * frames) >= kSnr * s.setup.front_end.noise_ff) return true;
  if (s.factory_reference) return false;
  double mean = 0;
  for (const double v : d[0]) mean += v / static_cast<double>(d[0].size());
  const double lasting = sum_of_squares(d[0], std::vector<double>(d[0].size(), mean));
  return std::sqrt(lasting) >= kSpreadRatio * s.setup.front_end.spread_ff;
}

double greatest_change_ff(const panel::Scenario& scenario, const panel::Scenario& twin) {
  double greatest = 0;
  for (const std::vector<double>& at : difference(scenario, twin))
    for (const double v : at) greatest = std::max(greatest, std::abs(v));
  return greatest;
}

}  // namespace bareglass::score
