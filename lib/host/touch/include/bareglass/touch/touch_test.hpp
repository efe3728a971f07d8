#pragma once
// A touch test as it happens: feed the contacts of every frame, ask for the result at any time.
//
//   TouchTest test(default_touch_plan(settings), settings);
//   for each frame:  test.feed(engine.contacts(), now_us);
//   test.result().passed

#include <cstdint>
#include <limits>
#include <string>
#include <vector>

#include "bareglass/core/contacts.hpp"
#include "bareglass/touch/touch_plan.hpp"

namespace bareglass::host {

/// A measured value; NaN: nothing was measured.
inline constexpr double kNotMeasured = std::numeric_limits<double>::quiet_NaN();

struct TouchStepResult {
  enum class State { missing, incomplete, done };
  State state = State::missing;
  std::size_t samples = 0;                 ///< reports of the contact that were kept
  PointMm offset;                          ///< points: mean reported place less the asked one, mm
  double accuracy_mm = kNotMeasured;       ///< points: length of `offset`
  double jitter_rms_mm = kNotMeasured;     ///< points: rms distance from the mean place
  double linearity_max_mm = kNotMeasured;  ///< lines: distance from the fitted line
  double linearity_rms_mm = kNotMeasured;
  double intended_max_mm = kNotMeasured;  ///< lines: distance from the intended line
  double intended_rms_mm = kNotMeasured;
  double short_mm = 0.0;  ///< lines: what is missing at the two ends, greater one
  int dropped = 0;        ///< the contact broke off and came back
};

struct TouchCheck {
  std::string name;  ///< "accuracy, median"
  std::string unit;  ///< "mm", "%" or ""
  double value = kNotMeasured;
  double limit = 0.0;
  bool at_least = false;  ///< else at most
  bool passed = false;    ///< never if nothing was measured
};

/// One per node.
enum class Coverage : std::uint8_t { not_asked, touched, untouched, touched_beside };

struct TouchResult {
  std::vector<TouchStepResult> steps;  ///< as the plan's
  std::vector<TouchCheck> checks;
  std::vector<Coverage> coverage;  ///< row-major
  Shape shape;
  std::vector<PointMm> extra_at;  ///< where contacts began that belong to no step; first kMostExtra
  static constexpr std::size_t kMostExtra = 32;
  std::uint64_t frames = 0;
  bool passed = false;
};

class TouchTest {
 public:
  /// `settings`: shape and pitches. The test's time starts with the first frame fed.
  TouchTest(TouchPlan plan, const Settings& settings);

  /// Contacts of one frame, as Engine::contacts() gives them; times must not fall.
  void feed(View<const Contact> contacts, std::uint64_t t_us);

  /// The step asked for now; steps().size() once all are done.
  std::size_t step() const;
  const TouchPlan& plan() const { return plan_; }
  TouchResult result() const;

 private:
  struct Sample {
    PointMm at;
    std::uint32_t stroke;
  };
  struct Progress {
    TouchStepResult::State state = TouchStepResult::State::missing;
    std::vector<Sample> samples;  ///< at most kMostSamples; thinned beyond
    int dropped = 0;
  };
  /// A contact from its first report to its lift.
  struct Stroke {
    bool down = false;
    int step = kExtra;
    std::uint32_t number = 0;
    PointMm begin, last;
    std::vector<bool> touched;  ///< nodes; counted once the contact is known to belong to its step
  };
  static constexpr int kExtra = -1;
  static constexpr std::size_t kMostSamples = 4096;

  PointMm place_of(const Contact& contact) const;
  void begin(Stroke& stroke, PointMm at, double t_s);
  void end(Stroke& stroke);
  void sample(Stroke& stroke, PointMm at);
  std::vector<Sample> take_back(Stroke& stroke);
  void turn_into_line(Stroke& stroke);
  int choose(PointMm at, double t_s);
  int choose_by_time(PointMm at, double t_s);
  bool goes_on(PointMm at) const;
  Stroke* busy_stroke();
  int choose_in_order(PointMm at) const;
  bool begins(std::size_t step, PointMm at) const;
  void note_extra(PointMm at);
  Progress& progress(int step) { return progress_[static_cast<std::size_t>(step)]; }

  TouchPlan plan_;
  Shape shape_;
  PointMm pitch_;
  std::vector<Progress> progress_;
  std::vector<bool> touched_;
  Stroke strokes_[kMaxContacts];
  std::uint32_t strokes_begun_ = 0;
  int broken_line_ = kExtra;  ///< a line whose contact lifted before its end
  PointMm broken_at_;
  int last_step_ = kExtra;
  int extra_ = 0;
  std::vector<PointMm> extra_at_;
  std::uint64_t frames_ = 0;
  std::uint64_t zero_us_ = 0;
};

struct Account;
/// What in a dump itself may have cost contacts, one sentence each.
std::vector<std::string> touch_remarks(const Account& account);

/// How a result is told.
struct TouchReport {
  std::string file;
  std::string unit;                       ///< may be empty
  std::string plan_file;                  ///< empty: the default plan
  std::vector<std::string> remarks = {};  ///< sentences on the dump itself
};
/// Plain text, about 80 characters wide, ending in a newline.
std::string touch_text(const TouchReport& about, const TouchPlan& plan, const TouchResult& result);
/// One JSON document (RFC 8259). What was not measured is null.
std::string touch_json(const TouchReport& about, const TouchPlan& plan, const TouchResult& result);

}  // namespace bareglass::host
