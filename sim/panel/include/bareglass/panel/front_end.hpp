#pragma once
// From charge to counts: gain, spread, noise, interference, supply, temperature, quantisation.

#include <cstdint>

#include "bareglass/panel/random.hpp"
#include "bareglass/panel_model/glass_model.hpp"

namespace bareglass::panel {

/// The analog front end. Defaults: common practice, no source.
struct FrontEndSpec {
  double counts_per_ff = 20.0;    ///< gain at the nominal drive, 0.01..10000
  double offset_counts = 0.0;     ///< -65535..65535
  double spread_ff = 4.0;         ///< standard deviation from node to node, 0..1000 (manufacture)
  double noise_ff = 1.5;          ///< standard deviation of each reading, white, 0..1000
  std::uint16_t raw_max = 65535;  ///< greatest count of the converter, 255..65535
  double drive_v = 10.0;          ///< nominal drive, 0.5..100
  int half_periods = 64;          ///< of the drive, averaged for one row, 2..10000
  double row_time_us = 200.0;     ///< from one row to the next, >= half_periods T
  double supply_min_mv = 3000;   ///< the drive is regulated down to this supply, then falls with it
  double gain_ppm_k = 0.0;       ///< of temperature, against 25 C, -10000..10000
  double offset_counts_k = 0.0;  ///< likewise, -1000..1000
};

/// A sinusoidal disturbance; amplitude 0: none.
struct Interference {
  double amplitude_v = 0.0;
  double frequency_hz = 0.0;  ///< 0..1e8
};

/// State of the device around the panel.
struct DeviceState {
  double earth_pf = kConnected;  ///< C_dev: docked or earthed, held about 100, on an insulator 1..5
  double supply_mv = 3700.0;
  double temperature_c = 25.0;
  Interference charger;  ///< of earth against the device's ground
  Interference ripple;   ///< of the supply: amplitude in volts of the drive
  bool charging = false;
  bool docked = false;
};

/// Drive over nominal drive, 0..1.
double drive_ratio(const FrontEndSpec& spec, const DeviceState& device);
/// What the demodulator makes of `interference` over one row that begins at `start_s`: mean over
/// the half periods of +- the change of v(t), scaled as a drive of 1 V counts; volts.
double demodulated(const Interference& interference, double start_s, double half_period_s,
                   int half_periods);

/// Mean of `interference` over `duration_s` from `start_s` on, volts: what a ripple of the drive
/// adds to the drive of one row.
double averaged(const Interference& interference, double start_s, double duration_s);

}  // namespace bareglass::panel
