#include "bareglass/panel/front_end.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

namespace bareglass::panel {

namespace {
constexpr double kTwoPi = 6.283185307179586476925;
}  // namespace

double drive_ratio(const FrontEndSpec& spec, const DeviceState& device) {
  return std::clamp(device.supply_mv / spec.supply_min_mv, 0.0, 1.0);
}

double demodulated(const Interference& interference, double start_s, double half_period_s,
                   int half_periods) {
  if (interference.amplitude_v == 0.0 || interference.frequency_hz == 0.0) return 0.0;
  // Reading k is (-1)^k (v(t_k+1) - v(t_k)) / 2: a square drive of 1 V from peak to peak of 2 V
  // counts 1. Their sum is a geometric series of phasors.
  const double turn = kTwoPi * interference.frequency_hz * half_period_s;
  // Whole turns are taken off first: sin and cos of large arguments lose digits.
  const double cycles = interference.frequency_hz * start_s;
  const std::complex<double> phase = std::polar(1.0, kTwoPi * (cycles - std::floor(cycles)));
  const std::complex<double> step = -std::polar(1.0, turn);
  const std::complex<double> one(1.0, 0.0);
  std::complex<double> sum;
  if (std::abs(one - step) < 1e-6) {
    sum = half_periods;
  } else {
    sum = (one - std::polar(1.0, std::remainder(turn * half_periods, kTwoPi)) *
                     (half_periods % 2 == 0 ? 1.0 : -1.0)) /
          (one - step);
  }
  const std::complex<double> reading = phase * (-step - one) * sum;
  return interference.amplitude_v * reading.imag() / (2.0 * half_periods);
}

double averaged(const Interference& interference, double start_s, double duration_s) {
  const double turn = kTwoPi * interference.frequency_hz * duration_s;
  if (interference.amplitude_v == 0.0 || turn == 0.0) return 0.0;
  const double cycles = interference.frequency_hz * start_s;
  const double phase = kTwoPi * (cycles - std::floor(cycles));
  return interference.amplitude_v * (std::cos(phase) - std::cos(phase + turn)) / turn;
}

}  // namespace bareglass::panel
