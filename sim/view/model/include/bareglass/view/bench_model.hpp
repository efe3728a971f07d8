#pragma once
// The trainer's live panel without its window. Start here.
//
//   BenchModel bench(bare_bench());
//   bench.power(true);
//   bench.put(ShelfItem::damp_note, {20, 30});
//   bench.advance(1.0);                          // simulated seconds; pacing is the caller's
//   bench.unit().device().state();               // the same core as in a device
//
// Every act is an event of a scenario that the bench writes while it plays it. So what was done can
// be saved and plays again frame for frame.

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/capture/writer.hpp"
#include "bareglass/panel/live_unit.hpp"
#include "bareglass/view/bench_shelf.hpp"

namespace bareglass::view {

/// The built-in panel, nothing on it, not powered: 16 x 10 nodes, 50 frames a second.
panel::Scenario bare_bench(int rows = 16, int columns = 10, double glass_mm = 1.1);

/// Something that lies on the glass now.
struct Lying {
  std::size_t thing = 0;  ///< index into story().things
  panel::ThingState state;
};

/// A contact that the device reports, in words of the glass.
struct BenchContact {
  int id = 0;
  double x_mm = 0.0, y_mm = 0.0;  ///< from the centre of node (0, 0)
  double percent = 0.0;           ///< of a finger
  bool made = false;              ///< a finger or a hand lies there
};

using panel::LineFault;

class BenchModel {
 public:
  /// Plays `story` from its beginning; its own events happen at their times. Throws
  /// host::CaptureError for numbers that a device's settings can't hold.
  explicit BenchModel(panel::Scenario story);
  ~BenchModel();
  BenchModel(const BenchModel&) = delete;
  BenchModel& operator=(const BenchModel&) = delete;

  /// Lets `seconds` of simulated time pass: every frame that falls due is scanned and processed.
  void advance(double seconds);
  double now_s() const;

  const panel::Scenario& story() const { return *story_; }
  const panel::LiveUnit& unit() const { return *unit_; }
  panel::GlassModel& glass() { return unit_->panel().glass(); }
  /// In the order in which they were put; the last lies on top.
  std::vector<Lying> lying() const;
  /// The uppermost thing at a point, mm, within `reach_mm` of its outline.
  std::optional<std::size_t> thing_at(field::Point at, double reach_mm = 1.0) const;
  /// The thing of that name, whether or not it lies there.
  std::optional<std::size_t> thing_named(const std::string& name) const;
  /// Deliberate contacts that are down.
  std::vector<BenchContact> contacts() const;
  /// Dock, earth, battery, charger as they are now.
  const panel::DeviceState& surroundings() const { return unit_->timeline().device(); }
  /// Called after every frame.
  using Observer = std::function<void(const panel::LiveUnit::Step&)>;
  void observe(Observer observer) { observer_ = std::move(observer); }

  // --- acts on things. Each takes effect in the next frame, which is scanned at once. ------------
  /// Puts what the shelf holds with its middle at `at`; returns the indices of the new things.
  std::vector<std::size_t> put(ShelfItem item, field::Point at);
  std::size_t put(panel::ThingSpec thing);
  /// Puts a thing of the story again, fresh, with its middle at `at`.
  void put_again(std::size_t thing, field::Point at);
  /// `word`: "lift", "peel" or "wipe".
  void take_away(std::size_t thing, const char* word = "lift");
  /// Takes everything away but fingers and hands, or those as well.
  void wipe_all(bool fingers_too = false);
  void move(std::size_t thing, field::Point to, double over_s = 0.0);
  /// A drag is one act however many places it passes; the thing follows frame by frame.
  void begin_drag(std::size_t thing);
  void drag_to(field::Point to);
  void end_drag();
  std::optional<std::size_t> dragged() const { return drag_thing_; }
  void turn(std::size_t thing, double by_degrees);
  void grow(std::size_t thing, double to_scale, double over_s = 0.0);
  void dry(std::size_t thing, double over_s);
  /// `earth_pf` to earth, `touches_bezel` to the device's own ground; conductors only.
  void connect(std::size_t thing, double earth_pf, bool touches_bezel);

  // --- acts on lines and on the device --------------------------------------------------------
  /// Returns the fault's name, by which it is repaired. Throws std::invalid_argument for lines that
  /// do not exist.
  std::string break_line(const LineFault& fault);
  void repair(const std::string& name);
  void repair_all();
  void power(bool on);
  /// Off and on again with `off_s` between.
  void power_cycle(double off_s = 0.2);
  void dock(bool docked);
  /// Capacitance from the device's ground to earth, pF, > 0; panel::kConnected: earthed.
  void set_earth(double pf);
  void set_battery(double millivolts, double over_s = 0.0);
  void set_temperature(double celsius, double over_s = 0.0);
  /// 0 V ends it.
  void set_charger_noise(double volts, double khz);

  // --- what the bench is made of: a change begins a new story with the same things lying there
  // ----
  void set_policy(StartPolicy policy);
  void set_thresholds(const Settings& thresholds);
  /// 0.3 to 10 mm. The first time for a thickness its field is solved, about three seconds.
  void set_glass(double mm);
  /// Throws host::CaptureError for a file that is no panel; nothing changes then.
  void set_panel(const std::string& file);
  void set_size(int rows, int columns);
  void set_factory_reference(bool there);
  /// The same things and device anew, from time 0.
  void begin_anew(std::uint64_t seed);
  /// Another story altogether; undo goes back to what lay there before.
  void load(panel::Scenario story, std::string label = "another scene");

  /// Events whose at_s counts from now. They belong to the story, not to the acts that undo() takes
  /// back.
  void schedule(const std::vector<panel::Event>& events);

  // --- undo ------------------------------------------------------------------------------------
  /// Brings what the last act changed back to how it was, now: time does not run backwards.
  bool undo();
  bool redo();
  /// What undo() and redo() would take back or do again; empty: nothing.
  std::string undo_label() const;
  std::string redo_label() const;

  // --- keeping ---------------------------------------------------------------------------------
  /// Records to a frame stream from the next frame on. Throws host::CaptureWriteError.
  void record(const std::string& path);
  bool recording() const { return writer_ != nullptr; }
  /// Frames in the recording so far.
  std::uint64_t recorded_frames() const { return recorded_frames_; }
  /// Completes the file. Throws host::CaptureWriteError. Destruction and a new story do it too.
  void stop_recording();
  /// What went wrong with the recording since record(), in one sentence; empty: nothing.
  const std::string& recording_problem() const { return recording_problem_; }
  /// The story so far as a scenario. `folder`: where it is going to lie.
  std::string scene_text(const std::string& folder = {}) const;
  /// Writes it. Throws host::CaptureWriteError, host::CaptureError for a story longer than a
  /// scenario may be.
  void save_scene(const std::string& path) const;
  std::string story_told = "Made at the bench.";  ///< becomes the scenario's story

 private:
  /// What an act touches.
  struct Aspects {
    std::vector<std::size_t> things;
    bool lines = false, device = false, power = false;
  };
  struct Scene {
    std::vector<panel::ThingState> things;  ///< of Aspects::things
    std::vector<panel::NamedFault> faults;
    panel::DeviceState device;
    bool powered = false;
  };
  struct Act {
    std::string label;
    Aspects aspects;
    Scene before;
    std::vector<panel::Event> events;     ///< to do it again
    std::vector<panel::ThingSpec> added;  ///< things that came with it
    /// Acts on the bench itself: the story to go back to or forward to, told anew.
    std::shared_ptr<const panel::Scenario> story_before, story_after;
  };

  void step();
  std::vector<panel::Event> way_back(const Act& act) const;
  void come_to(const std::shared_ptr<const panel::Scenario>& story);
  Scene scene(const Aspects& aspects) const;
  void happen(std::vector<panel::Event> events);
  void act(std::string label, Aspects aspects, std::vector<panel::Event> events);
  void remember(Act act);
  std::string free_name(const std::string& wanted) const;
  panel::Scenario told_anew() const;
  void change(std::string label, const std::function<void(panel::Scenario&)>& edit);
  void begin(std::unique_ptr<panel::Scenario> story);
  void follow_drag();
  void send(const host::Record& record);

  std::unique_ptr<panel::Scenario> story_;
  std::unique_ptr<panel::LiveUnit> unit_;
  std::uint64_t due_us_ = 0;  ///< simulated time that has been asked for
  double due_rest_us_ = 0.0;
  Observer observer_;
  std::vector<Act> done_;
  std::vector<Act> undone_;
  std::optional<std::size_t> drag_thing_;
  std::optional<field::Point> drag_target_;
  Act drag_act_;
  std::unique_ptr<host::CaptureWriter> writer_;
  std::uint64_t recorded_frames_ = 0;
  std::string recording_problem_;
};

}  // namespace bareglass::view
