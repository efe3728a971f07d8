#pragma once
// A simulated unit that runs frame by frame: its panel is scanned, its firmware is the portable
// core, and whoever listens hears what the unit would send, with the truth as notes.

#include <functional>
#include <memory>

#include "bareglass/capture/records.hpp"
#include "bareglass/core/engine.hpp"
#include "bareglass/panel/scenario.hpp"

namespace bareglass::panel {

using SendRecord = std::function<void(const host::Record&)>;

class LiveUnit {
 public:
  /// `scenario` must outlive the unit and may grow meanwhile as Timeline says; all else in it is
  /// read now. Throws host::CaptureError for numbers that the device's settings can't hold.
  explicit LiveUnit(const Scenario& scenario);
  /// The same with kernels that are at hand; they must belong to the scenario's panel.
  LiveUnit(const Scenario& scenario, field::SurfaceKernels kernels);
  LiveUnit(const LiveUnit&) = delete;
  LiveUnit& operator=(const LiveUnit&) = delete;

  /// Sends what stands at the head of a dump: panel description, story, factory reference.
  /// `knows_power_up`: whether the dump holds the frames from the power-up on.
  void announce(const SendRecord& send, bool knows_power_up) const;
  /// From the next frame on everything is sent, beginning with the truth of what lies there.
  /// Empty: nobody listens any more.
  void listen(SendRecord send);
  bool heard() const { return static_cast<bool>(send_); }

  /// What one frame period did.
  struct Step {
    bool powered = false;    ///< else nothing was scanned
    bool restarted = false;  ///< the power came back in this frame
    StepResult result;       ///< of the core; powered only
  };
  Step step();

  /// End of the frame last stepped, us; 0 before the first.
  std::uint64_t t_us() const { return t_us_; }
  /// When the device was powered up last, us.
  std::uint64_t power_up_us() const { return power_up_us_; }
  bool powered() const { return on_; }
  const Engine& device() const { return device_; }
  const Timeline& timeline() const { return timeline_; }
  SimulatedPanel& panel() { return panel_; }
  /// The frame scanned last; empty before the first.
  const host::FrameRecord& frame() const { return frame_; }
  /// The bare panel as the factory stored it, counts, whether or not the device has it.
  const std::vector<std::uint16_t>& reference() const { return reference_; }

 private:
  static constexpr int kMostLines = 128;
  std::uint16_t finger_counts();
  void configure();
  host::PanelDescription description() const;
  void note(std::string text) const;
  void restart();
  void tell_truth();
  void tell_journal();
  void tell_supply(const DeviceState& device);

  const Scenario& scenario_;
  SendRecord send_;
  SimulatedPanel panel_;
  Timeline timeline_;
  std::vector<std::uint16_t> reference_;
  Settings settings_;
  std::unique_ptr<Storage<kMostLines, kMostLines>> storage_;
  Engine device_;
  host::FrameRecord frame_;
  std::uint64_t t_us_ = 0;
  std::uint64_t power_up_us_ = 0;
  std::uint32_t sequence_ = 0;
  std::uint32_t journal_sent_ = 0;
  double next_supply_s_ = 0.0;
  bool on_ = false;  ///< in the frame last stepped
  bool told_ = false;
  bool supply_told_ = false;
  bool docked_ = false;
  bool charging_ = false;
};

}  // namespace bareglass::panel
