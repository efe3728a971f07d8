#include "front_end.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::world {

namespace {

// Purposes that draw random numbers of their own.
enum Stream : std::uint64_t { kNoise = 211, kFactory = 212, kSlow = 213 };
constexpr double kTwoPi = 6.283185307179586;

}  // namespace

FrontEnd::FrontEnd(const WorldCase& c, const panel::NodeMatrix& bare_charge)
    : case_(c),
      bare_(bare_charge),
      noise_(c.seed, kNoise),
      factory_(c.seed, kFactory),
      slow_(c.seed, kSlow) {
  const panel::FrontEndSpec& fe = c.scenario.setup.front_end;
  const double bare_counts = fe.counts_per_ff * bare_.mean() + c.disturbance.offset_counts;
  top_counts_ = std::min(static_cast<double>(fe.raw_max), 2.0 * bare_counts);
  for (Eigen::Index r = 0; r < bare_.rows(); ++r)
    row_gain_.push_back(1 + c.disturbance.row_gain * slow_.normal());
  const auto nodes = static_cast<std::size_t>(bare_.size());
  extra_.assign(nodes, 0.0);
  if (c.disturbance.flicker_ff > 0.0)
    for (std::size_t k = 0; k < nodes * std::size(kTaus); ++k) wander_.push_back(slow_.normal());
  for (int k = 0; k < c.disturbance.popcorn_nodes; ++k)
    jumpers_.push_back({static_cast<std::size_t>(slow_.uniform() * static_cast<double>(nodes)),
                        slow_.uniform() < 0.5});
}

std::uint16_t FrontEnd::counts(double ff) const {
  const panel::FrontEndSpec& fe = case_.scenario.setup.front_end;
  const Disturbance& x = case_.disturbance;
  double value = fe.counts_per_ff * ff + x.offset_counts;
  if (x.counts_rise) value = top_counts_ - value + x.offset_counts;
  value = std::clamp(value, 0.0, static_cast<double>(fe.raw_max));
  const double step = x.twelve_bits ? 16.0 : 1.0;
  const double whole = std::floor(value / step + 0.5) * step;
  return static_cast<std::uint16_t>(std::min(whole, static_cast<double>(fe.raw_max)));
}

std::vector<std::uint16_t> FrontEnd::reference() {
  const Disturbance& x = case_.disturbance;
  const panel::FrontEndSpec& fe = case_.scenario.setup.front_end;
  std::vector<std::uint16_t> out;
  const double noise =
      x.reference_frames > 0 ? fe.noise_ff / std::sqrt(static_cast<double>(x.reference_frames)) : 0;
  for (Eigen::Index k = 0; k < bare_.size(); ++k) {
    const double then = bare_.data()[k] / (1 + x.reference_gain) - x.reference_offset_ff;
    const double aged = then + x.ageing_ff * factory_.normal();
    out.push_back(counts(aged + noise * factory_.normal()));
  }
  return out;
}

double FrontEnd::gain_at(const panel::DeviceState& device, double t_s, double since_s) const {
  const panel::FrontEndSpec& fe = case_.scenario.setup.front_end;
  const Disturbance& x = case_.disturbance;
  const double warm_k = device.temperature_c - 25.0;
  double gain = 1.0 + 1e-6 * fe.gain_ppm_k * warm_k;
  gain *=
      1.0 + x.drift * t_s / case_.scenario.duration_s + x.wave * std::sin(kTwoPi * 0.2 * t_s + 1.0);
  if (x.settle_depth > 0.0) gain *= 1.0 - x.settle_depth * std::exp(-since_s / x.settle_tau_s);
  return gain * panel::drive_ratio(fe, device);
}

void FrontEnd::flicker(std::vector<double>& noise, double dt_s) {
  if (wander_.empty()) return;
  constexpr std::size_t kCount = std::size(kTaus);
  const double size = case_.disturbance.flicker_ff / std::sqrt(static_cast<double>(kCount));
  for (std::size_t j = 0; j < kCount; ++j) {
    const double keep = std::exp(-dt_s / kTaus[j]);
    const double fresh = std::sqrt(1 - keep * keep);
    for (std::size_t k = 0; k < noise.size(); ++k) {
      double& w = wander_[k * kCount + j];
      w = keep * w + fresh * slow_.normal();
      noise[k] += size * w;
    }
  }
}

void FrontEnd::popcorn(std::vector<double>& noise, double dt_s) {
  constexpr double kMean_s = 0.5;  // between two jumps
  for (Jumper& j : jumpers_) {
    if (slow_.uniform() < 1 - std::exp(-dt_s / kMean_s)) j.high = !j.high;
    noise[j.node] += (j.high ? 0.5 : -0.5) * case_.disturbance.popcorn_ff;
  }
}

void FrontEnd::digitise(std::vector<std::uint16_t>& out, const panel::NodeMatrix& charge,
                        const Eigen::VectorXd& hum, const panel::DeviceState& device, double t_s,
                        double since_s) {
  const panel::FrontEndSpec& fe = case_.scenario.setup.front_end;
  const double half_period_s = case_.scenario.setup.lines.half_period_us * 1e-6;
  std::fill(extra_.begin(), extra_.end(), 0.0);
  const double dt_s = last_s_ < 0 ? 0.0 : t_s - last_s_;
  flicker(extra_, dt_s);
  popcorn(extra_, dt_s);
  last_s_ = t_s;
  out.resize(extra_.size());
  for (Eigen::Index r = 0; r < charge.rows(); ++r) {
    // Rows are scanned one after another, the last one ends with the frame.
    const double before_s = static_cast<double>(charge.rows() - r) * fe.row_time_us * 1e-6;
    const double start_s = t_s - before_s;
    const double hums = panel::demodulated(device.charger, start_s, half_period_s, fe.half_periods);
    const double ripple =
        panel::averaged(device.ripple, start_s, half_period_s * fe.half_periods) / fe.drive_v;
    const double gain = (gain_at(device, start_s, std::max(0.0, since_s - before_s)) + ripple) *
                        row_gain_[static_cast<std::size_t>(r)];
    const double swing = case_.disturbance.row_swing_ff * noise_.normal();
    for (Eigen::Index q = 0; q < charge.cols(); ++q) {
      const auto node = static_cast<std::size_t>(r * charge.cols() + q);
      out[node] = counts(gain * charge(r, q) + hum(q) * hums / fe.drive_v + swing + extra_[node] +
                         fe.noise_ff * noise_.normal());
    }
  }
}

}  // namespace bareglass::world
