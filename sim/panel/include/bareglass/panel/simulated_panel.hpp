#pragma once
// Start here. A panel that is scanned: things on the glass, lines and front end in, raw frames out.
//
//   const field::PanelSpec spec = field::reference_panel(1.1);
//   SimulatedPanel panel(spec, kernels_of(spec), setup);
//   Situation now;
//   now.conductors.push_back({Outline::disc(8.0), {20, 30}, 100.0, 0.0, {}});
//   panel.scan(counts, now, t_us);

#include <map>
#include <vector>

#include "bareglass/panel/front_end.hpp"
#include "bareglass/panel_model/glass_model.hpp"
#include "bareglass/panel_model/lines.hpp"

namespace bareglass::panel {

/// How well the factory reference fits the panel. Defaults: ideally.
struct ReferenceSpec {
  int frames = 0;             ///< averaged into it, 0..100000; 0: no noise of its own
  double gain_percent = 0.0;  ///< what the panel's gain has changed by since, -50..50
  double ageing_ff = 0.0;     ///< standard deviation of a node's own change since, 0..1000
};

struct PanelSetup {
  int rows = 16;     ///< 2..128
  int columns = 10;  ///< 2..128
  LineSpec lines;
  FrontEndSpec front_end;
  ReferenceSpec reference;
  std::uint64_t seed = 1;  ///< of manufacture, noise and intermittent faults
};

/// Everything that can be different from one frame to the next.
struct Situation {
  std::vector<Conductor> conductors;
  std::vector<Film> films;
  std::vector<LineFault> faults;
  DeviceState device;
};

/// The same seed and the same situations give the same bits.
class SimulatedPanel {
 public:
  /// `kernels` belong to `spec`. Throws std::invalid_argument, naming the field, for a setup out of
  /// range.
  SimulatedPanel(const field::PanelSpec& spec, field::SurfaceKernels kernels,
                 const PanelSetup& setup);

  /// One frame, rows * columns counts, row-major; the scan ends at `t_us`.
  void scan(std::vector<std::uint16_t>& out, const Situation& situation, std::uint64_t t_us);

  /// The bare panel without noise at 25 C and nominal drive: what a factory would store.
  std::vector<std::uint16_t> reference();
  /// Signal of an 8 mm grounded disc on the middle node as this panel reads it, counts: slow lines
  /// lose part of it.
  int finger_counts();

  const PanelSetup& setup() const { return setup_; }
  GlassModel& glass() { return glass_; }
  /// Charge per volt of the frame scanned last, before the front end, fF.
  const NodeMatrix& charge() const { return charge_; }
  /// Which faults of the situation were there in the frame scanned last.
  const std::vector<bool>& faults_there() const { return there_; }

 private:
  struct Telegraph {  ///< state of one intermittent fault
    bool there = true;
    double until_s = -1.0;
  };
  const LineResponse& response(const std::vector<LineFault>& faults, double t_s);
  void digitise(std::vector<std::uint16_t>& out, const DeviceState& device, double end_s);

  PanelSetup setup_;
  GlassModel glass_;
  Random noise_;
  Random fault_random_;
  NodeMatrix bare_;
  NodeMatrix capacitance_;
  NodeMatrix charge_;
  GlassResponse surface_;
  std::vector<LineFault> known_faults_;
  std::vector<Telegraph> telegraphs_;
  std::vector<bool> there_;
  std::map<std::vector<bool>, LineResponse> responses_;
};

}  // namespace bareglass::panel
