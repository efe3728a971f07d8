#include "bareglass/panel/simulated_panel.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>

namespace bareglass::panel {

namespace {

// Purposes that draw random numbers of their own.
enum Stream : std::uint64_t { kManufacture = 1, kNoise = 2, kFaults = 3, kReference = 4 };

void require(bool holds, const char* what) {
  if (!holds) throw std::invalid_argument(what);
}

void check(const PanelSetup& s) {
  require(s.rows >= 2 && s.rows <= 128, "rows: expected 2 to 128");
  require(s.columns >= 2 && s.columns <= 128, "columns: expected 2 to 128");
  require(s.front_end.counts_per_ff > 0.0, "counts_per_ff: expected more than 0");
  require(s.front_end.drive_v > 0.0, "drive_v: expected more than 0");
  require(s.front_end.supply_min_mv > 0.0, "supply_min_mv: expected more than 0");
  require(s.front_end.half_periods >= 2, "half_periods: expected 2 or more");
  require(s.lines.half_period_us > 0.0, "half_period_us: expected more than 0");
  require(s.front_end.row_time_us >= s.front_end.half_periods * s.lines.half_period_us,
          "row_time_us: expected at least half_periods times half_period_us");
}

const PanelSetup& checked(const PanelSetup& setup) {
  check(setup);
  return setup;
}

bool same(const LineFault& a, const LineFault& b) {
  return a.kind == b.kind && a.of_rows == b.of_rows && a.first == b.first && a.last == b.last &&
         a.at == b.at && a.ohm == b.ohm && a.mean_there_s == b.mean_there_s &&
         a.mean_away_s == b.mean_away_s;
}

void check(const LineFault& f, const PanelSetup& setup) {
  const int own = f.of_rows ? setup.rows : setup.columns;
  const int crossed = f.of_rows ? setup.columns : setup.rows;
  require(f.first >= 0 && f.last < own && f.first <= f.last, "fault: its lines do not exist");
  require(f.kind != LineFault::Kind::cut || (f.at >= 1 && f.at < crossed),
          "fault: a cut lies between two crossings");
  require(f.kind != LineFault::Kind::bridged || f.first < f.last,
          "fault: a bridge joins two lines");
  require(f.ohm >= 0.0, "fault: ohm must not be negative");
}

}  // namespace

SimulatedPanel::SimulatedPanel(const field::PanelSpec& spec, field::SurfaceKernels kernels,
                               const PanelSetup& setup)
    : setup_(checked(setup)),
      glass_(spec, std::move(kernels), {setup.rows, setup.columns}),
      noise_(setup.seed, kNoise),
      fault_random_(setup.seed, kFaults) {
  Random manufacture(setup.seed, kManufacture);
  bare_ = NodeMatrix::Constant(setup.rows, setup.columns, glass_.numbers().node);
  for (Eigen::Index k = 0; k < bare_.size(); ++k)
    bare_.data()[k] += setup.front_end.spread_ff * manufacture.normal();
  capacitance_ = bare_;
  charge_ = bare_;
}

const LineResponse& SimulatedPanel::response(const std::vector<LineFault>& faults, double t_s) {
  const bool known = faults.size() == known_faults_.size() &&
                     std::equal(faults.begin(), faults.end(), known_faults_.begin(), same);
  if (!known) {
    for (const LineFault& f : faults) check(f, setup_);
    known_faults_ = faults;
    telegraphs_.assign(faults.size(), {});
    there_.assign(faults.size(), true);
    responses_.clear();
  }
  std::vector<LineFault> active;
  for (std::size_t k = 0; k < faults.size(); ++k) {
    const LineFault& f = faults[k];
    if (f.mean_there_s > 0.0 && f.mean_away_s > 0.0) {
      // A random telegraph: exponential times there and away.
      Telegraph& state = telegraphs_[k];
      if (state.until_s < 0.0) state.until_s = t_s + f.mean_there_s * fault_random_.exponential();
      while (state.until_s < t_s) {
        state.there = !state.there;
        state.until_s +=
            (state.there ? f.mean_there_s : f.mean_away_s) * fault_random_.exponential();
      }
      there_[k] = state.there;
    }
    if (there_[k]) active.push_back(f);
  }
  const auto found = responses_.find(there_);
  if (found != responses_.end()) return found->second;
  return responses_
      .emplace(there_,
               LineResponse(setup_.lines, glass_.spec(), glass_.numbers(), glass_.lines(), active))
      .first->second;
}

void SimulatedPanel::scan(std::vector<std::uint16_t>& out, const Situation& situation,
                          std::uint64_t t_us) {
  const double end_s = static_cast<double>(t_us) * 1e-6;
  glass_.respond(surface_, situation.conductors, situation.films, situation.device.earth_pf);
  // A node can't go below nothing, however a sum of fast models may err.
  capacitance_ = (bare_ + surface_.change).cwiseMax(0.0);
  response(situation.faults, end_s).apply(charge_, capacitance_);
  digitise(out, situation.device, end_s);
}

void SimulatedPanel::digitise(std::vector<std::uint16_t>& out, const DeviceState& device,
                              double end_s) {
  const FrontEndSpec& fe = setup_.front_end;
  const double warm_k = device.temperature_c - 25.0;
  const double gain = fe.counts_per_ff * (1.0 + 1e-6 * fe.gain_ppm_k * warm_k);
  const double offset = fe.offset_counts + fe.offset_counts_k * warm_k;
  const double drive = drive_ratio(fe, device);
  const double half_period_s = setup_.lines.half_period_us * 1e-6;
  const double top = fe.raw_max;
  out.resize(static_cast<std::size_t>(setup_.rows * setup_.columns));
  for (int r = 0; r < setup_.rows; ++r) {
    // Rows are scanned one after another, the last one ends with the frame.
    const double start_s = end_s - (setup_.rows - r) * fe.row_time_us * 1e-6;
    const double hum = demodulated(device.charger, start_s, half_period_s, fe.half_periods);
    const double ripple = averaged(device.ripple, start_s, half_period_s * fe.half_periods);
    const double row_drive = drive + ripple / fe.drive_v;
    const double* charge = charge_.data() + static_cast<std::ptrdiff_t>(r) * setup_.columns;
    std::uint16_t* counts = out.data() + static_cast<std::ptrdiff_t>(r) * setup_.columns;
    for (int c = 0; c < setup_.columns; ++c) {
      const double ff = row_drive * charge[c] + surface_.hum(c) * hum / fe.drive_v +
                        fe.noise_ff * noise_.normal();
      const double value = std::clamp(offset + gain * ff, 0.0, top);
      counts[c] = static_cast<std::uint16_t>(value + 0.5);
    }
  }
}

std::vector<std::uint16_t> SimulatedPanel::reference() {
  const FrontEndSpec& fe = setup_.front_end;
  NodeMatrix charge = bare_;
  LineResponse(setup_.lines, glass_.spec(), glass_.numbers(), glass_.lines(), {})
      .apply(charge, bare_);
  std::vector<std::uint16_t> out(static_cast<std::size_t>(charge.size()));
  const ReferenceSpec& spec = setup_.reference;
  Random since(setup_.seed, kReference);
  const double own = spec.frames > 0 ? fe.noise_ff / std::sqrt(spec.frames) : 0.0;
  const double off_ff = std::hypot(own, spec.ageing_ff);
  for (std::size_t k = 0; k < out.size(); ++k) {
    const double then = charge.data()[k] / (1.0 + spec.gain_percent / 100.0) +
                        (off_ff > 0.0 ? off_ff * since.normal() : 0.0);
    out[k] = static_cast<std::uint16_t>(std::clamp(fe.offset_counts + fe.counts_per_ff * then, 0.0,
                                                   static_cast<double>(fe.raw_max)) +
                                        0.5);
  }
  return out;
}

int SimulatedPanel::finger_counts() {
  const Eigen::Index row = setup_.rows / 2;
  const Eigen::Index column = setup_.columns / 2;
  NodeMatrix bare = NodeMatrix::Constant(setup_.rows, setup_.columns, glass_.numbers().node);
  NodeMatrix touched = bare;
  touched(row, column) += glass_.finger_change();
  NodeMatrix bare_charge = bare;
  NodeMatrix touched_charge = touched;
  const LineResponse lines(setup_.lines, glass_.spec(), glass_.numbers(), glass_.lines(), {});
  lines.apply(bare_charge, bare);
  lines.apply(touched_charge, touched);
  return static_cast<int>(std::lround((bare_charge(row, column) - touched_charge(row, column)) *
                                      setup_.front_end.counts_per_ff));
}

}  // namespace bareglass::panel
