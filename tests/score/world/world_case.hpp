#pragma once
// One case of the judge: a drawn panel with drawn disturbances, things on its glass, faults of its
// lines and states of the device, over one to four start-ups, and which answers are right.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/panel/scenario.hpp"

namespace bareglass::world {

/// What was put there. How it is to be called is another matter: truth.hpp.
enum class Kind {
  body,             ///< a conductor of any size from fingertip to palm, any way to earth
  streak,           ///< a long one: stroke, L or curve
  drops,            ///< several small isolated ones
  bezel,            ///< fluid along a border, joined to the device's ground or not
  layer,            ///< a dielectric
  whole_glass,      ///< a wet cloth or a film over all nodes
  held,             ///< a still grounded lump for longer than a minute, put on while in use
  keyring,          ///< second world only
  thread,           ///< likewise: a wet thread
  bandage,          ///< likewise: a gel pad on a spacer inside a layer
  open_line,        ///< tail open
  cut,              ///< one or more lines cut at a crossing
  bridged,          ///< two neighbours joined
  resistive,        ///< resistance in one tail
  tail_group,       ///< neighbouring tails resistive or open
  intermittent,     ///< a line comes and goes
  sag,              ///< the drive falls with the supply
  temperature,      ///< all nodes off by a common gain: cold start
  interference,     ///< a charger beside the drive's frequency, under a touch
  common_mode,      ///< a ripple of the drive that moves rows
  floating_ground,  ///< device without a way to earth, touched
};
inline constexpr int kKindCount = static_cast<int>(Kind::floating_ground) + 1;
const char* name_of(Kind kind);
inline bool lies_on_glass(Kind kind) { return kind <= Kind::bandage; }
inline bool is_fault(Kind kind) { return kind >= Kind::open_line && kind <= Kind::intermittent; }

/// One of the unit's power cycles, s on the story's clock.
struct Life {
  double from_s = 0.0;
  double until_s = 0.0;
  double long_s() const { return until_s - from_s; }
};

/// When a thing lies there, s; lives may lie between.
struct Stay {
  double from_s = 0.0;
  double until_s = 0.0;
};

/// A thing, a fault or a state of the device, as put there.
struct Item {
  Kind kind = Kind::body;
  std::vector<std::size_t> things;  ///< indices into the scenario's
  std::vector<std::string> faults;  ///< names in the scenario's events
  std::vector<Stay> stays;          ///< in order of time
  bool dries = false;               ///< to half of its size or less while somebody watches
  bool fades = false;               ///< dries, however little of that is seen
  bool moves = false;               ///< during the last life
  bool moves_from_start = false;    ///< it is on its way while the last start-up looks
  double area_mm2 = 0.0;
  double long_mm = 0.0;   ///< longer side of the upright or turned outline
  double wide_mm = 0.0;   ///< shorter one; of a stroke its width
  double solidity = 1.0;  ///< area over that of the box of both sides
  double earth_pf = 0.0;  ///< to everything that is at ground, 0..infinity
  panel::Spacer spacer;   ///< under all of it
  bool person = false;
  int first = 0, last = 0, at = -1;  ///< lines of a fault, as host::LinesFound counts
  bool of_rows = true;
  double strength = 0.0;  ///< of device states: relative gain, volts, pF

  // What visible.cpp works out:
  bool visible = false;         ///< in the last life
  double snr = 0.0;             ///< of a detector that knows the shape
  double peak_of_finger = 0.0;  ///< greatest change of a node over a finger's, with its sign
  // What truth.cpp works out: names that are right, the first being what it is called.
  std::vector<std::string> right;
};

/// What healthy units have as well. Gains are relative, a signal's unit is fF.
struct Disturbance {
  double settle_depth = 0.0;    ///< first reading lower by this part at the moment of power-up
  double settle_tau_s = 0.0;    ///< and decays so
  double row_swing_ff = 0.0;    ///< rms of what the nodes of a row share in one scan
  double drift = 0.0;           ///< change of gain from the dump's begin to its end
  double wave = 0.0;            ///< amplitude of a slow wave of the gain, 0.2 Hz
  double offset_counts = 0.0;   ///< of the converter
  bool counts_rise = false;     ///< a touch raises the counts
  int reference_frames = 0;     ///< averaged into the reference; 0: ideal
  double reference_gain = 0.0;  ///< of the panel now against the reference
  double reference_offset_ff = 0.0;
  double ageing_ff = 0.0;       ///< standard deviation of a node's change since
  bool clock_restarts = false;  ///< each life counts its time and frames from zero
  // Second world only:
  double flicker_ff = 0.0;  ///< rms of a noise of each node with a falling spectrum
  int popcorn_nodes = 0;    ///< nodes that jump between two levels
  double popcorn_ff = 0.0;
  double row_gain = 0.0;  ///< standard deviation of a row's gain since the reference
  bool twelve_bits = false;
  double map_error = 0.0;     ///< rms of a smooth factor on every change
  double passed_error = 0.0;  ///< relative error of what conductors pass on
};

struct WorldCase {
  std::uint64_t seed = 0;
  int world = 1;
  int panel = 0;             ///< index of panels.hpp
  panel::Scenario scenario;  ///< panel, things, events, device; its noise is that of the case
  Disturbance disturbance;
  std::vector<Life> lives;  ///< at least one
  std::vector<Item> items;  ///< none: healthy
  int fingers_in_use = 0;   ///< touches of the last life, most at a time
  int finger_counts = 0;
  double finger_ff = 0.0;  ///< change under an 8 mm earthed disc, > 0
  /// Names that a healthy unit with these disturbances may be told without an alarm.
  std::vector<std::string> tolerated;
};

struct DrawOptions {
  int world = 1;
  bool only_healthy = false;
  std::optional<Kind> only;     ///< single cases of this kind
  bool only_draw = false;       ///< leaves out what can be seen and which answers are right
  bool shipped_panels = false;  ///< only panels whose kernels ship with the project
};

/// The case of this seed, with its right answers: the same on every run and machine.
WorldCase draw_case(std::uint64_t seed, const DrawOptions& options);

}  // namespace bareglass::world
