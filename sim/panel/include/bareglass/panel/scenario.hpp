#pragma once
// A story told to the simulated panel: what lies on the glass when, what breaks, what the device
// does. Written as TOML; the format is described in sim/panel/SCENARIOS.md.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/core/settings.hpp"
#include "bareglass/field/panel_spec.hpp"
#include "bareglass/panel/simulated_panel.hpp"

namespace bareglass::panel {

/// What a thing is to be drawn as. Changes nothing in the physics.
enum class Look {
  unsaid,
  finger,
  hand,
  tape,
  paper,
  drop,
  wet_film,
  residue,
  metal,
  bezel_fluid,
};
/// Word of the file: "wet_film"; empty for unsaid.
const char* word_of(Look look);

/// A thing of a scenario before anything has happened to it.
struct ThingSpec {
  std::string name;
  Look look = Look::unsaid;
  bool is_film = false;
  OutlinePtr outline;
  std::string shape;  ///< word of the file, for the ground truth
  field::Point place;
  double earth_pf = 0.0;
  double device_pf = 0.0;
  Spacer spacer;
  double film_um = 0.0;
  double permittivity = 1.0;
  double tremor_mm = 0.0;  ///< amplitude of a slow wander, as of a resting finger
};

enum class Action {
  put,
  lift,
  move,
  grow,
  dry,
  turn,
  ground,  // things
  fault,
  repair,  // lines
  supply,
  temperature,
  dock,
  undock,
  earth,
  charger_noise,
  ripple,  // device
  power_off,
  power_on
};

struct Event {
  double at_s = 0.0;
  double over_s = 0.0;  ///< duration of move, grow, dry, supply, temperature
  Action action = Action::put;
  std::string word;                ///< of the file
  std::size_t thing = 0;           ///< index, for actions on things
  std::string name;                ///< of a fault
  std::optional<field::Point> to;  ///< put, move
  double value = 0.0;              ///< scale, degrees, mV, C, pF, V
  double film_um = -1.0;           ///< put: thickness of a film that lies there; below 0: fresh
  double frequency_hz = 0.0;
  std::optional<double> earth_pf, device_pf;  ///< ground
  LineFault fault;
};

struct Scenario {
  std::string file;
  std::string story;
  std::string unit_id;
  double duration_s = 5.0;
  double record_from_s = 0.0;
  bool factory_reference = true;
  StartPolicy policy = StartPolicy::lock;
  Settings thresholds;  ///< of the device; shape, pitches, finger and policy are set apart
  std::uint32_t frame_period_us = 20000;
  field::PanelSpec panel;
  std::string panel_path;
  PanelSetup setup;
  DeviceState device;
  std::vector<ThingSpec> things;
  std::vector<Event> events;  ///< in order of time
};

/// Reads `path`; a panel file is looked for relative to its folder. Throws host::CaptureError that
/// names the file, the line, the key and what was expected.
Scenario load_scenario(const std::string& path);
/// The same from text. `file` names it in errors and says where panel files are looked for.
Scenario parse_scenario(const std::string& text, const std::string& file);

/// The reverse: a text that parse_scenario reads as the same story, frame for frame. `panel_file`
/// is what stands as panel.file; empty: the built-in panel with the glass of `scenario`.
std::string scenario_text(const Scenario& scenario, const std::string& panel_file);

/// State of one thing at a moment.
struct ThingState {
  bool there = false;
  field::Point place;  ///< mm, without its tremor
  double scale = 1.0;
  double angle_deg = 0.0;
  double film_um = 0.0;
  double earth_pf = 0.0, device_pf = 0.0;
  bool drying = false;
  double dry_after_s = 0.0;  ///< drying: time left
  OutlinePtr outline;        ///< as it is now
};

using NamedFault = std::pair<std::string, LineFault>;

/// Evaluates a scenario's events. Times must not fall from call to call. The scenario may grow
/// meanwhile: things at its end, events later than the last time asked for.
class Timeline {
 public:
  explicit Timeline(const Scenario& scenario);

  /// The situation at `t_s`. The reference holds until the next call.
  const Situation& at(double t_s);
  bool powered() const { return powered_; }
  /// Events that took effect in the last at(), as indices.
  const std::vector<std::size_t>& happened() const { return happened_; }
  /// Whether the thing was in the scenario at the last at().
  bool knows(std::size_t thing) const { return thing < things_.size(); }
  /// As of the last at().
  ThingState thing(std::size_t index) const;
  const std::vector<NamedFault>& faults() const { return faults_; }
  const DeviceState& device() const { return now_.device; }
  /// What lies on the glass and which lines are broken, as lines of ground truth without the
  /// leading "truth: ".
  std::vector<std::string> truth() const;
  /// One event as such a line.
  std::string truth(std::size_t event) const;

 private:
  struct Slide {  ///< a value on its way
    double from = 0.0, to = 0.0, begin_s = 0.0, over_s = 0.0;
    double at(double t_s) const;
    void set(double value) { *this = {value, value, 0.0, 0.0}; }
    void go(double target, double t_s, double duration_s);
  };
  struct Thing {
    bool there = false;
    bool drying = false;
    Slide x, y, scale, film_um;
    double angle_deg = 0.0;
    double earth_pf = 0.0, device_pf = 0.0;
    OutlinePtr outline;
    int scale_step = 0;
    double cut_deg = 0.0;  ///< angle at which outline was cut
  };
  void apply(const Event& event);
  void apply_to_thing(const Event& event);
  void apply_to_device(const Event& event);
  static void place(const ThingSpec& spec, Thing& thing);
  void lay(std::size_t index, double t_s);
  std::string truth(const NamedFault& fault) const;

  const Scenario& scenario_;
  std::vector<Thing> things_;
  std::vector<NamedFault> faults_;
  Slide supply_mv_, temperature_c_;
  DeviceState device_;
  Situation now_;
  double now_s_ = 0.0;
  std::size_t next_ = 0;
  std::vector<std::size_t> happened_;
  bool powered_ = true;
};

}  // namespace bareglass::panel
