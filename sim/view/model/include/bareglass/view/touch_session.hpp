#pragma once
// A touch test at the bench: targets to touch with the bench's own finger, judged as
// `bareglass touchtest` judges a recorded one.

#include <optional>

#include "bareglass/touch/touch_test.hpp"
#include "bareglass/view/bench_model.hpp"

namespace bareglass::view {

class TouchSession {
 public:
  /// Tests the device of `bench`, which must outlive the session; it should be running. Without a
  /// `plan` the default one for its panel. Throws host::CaptureError for a plan that leaves the
  /// panel.
  TouchSession(BenchModel& bench, std::optional<host::TouchPlan> plan,
               const std::string& plan_file);

  /// The finger comes down, slides, leaves; mm as the bench counts them.
  void press(field::Point at);
  void slide(field::Point to);
  void release();
  bool pressed() const { return pressed_; }
  /// To be called after every frame.
  void see();

  const host::TouchTest& test() const { return test_; }
  bool finished() const { return test_.step() >= test_.plan().steps.size() && !pressed_; }
  /// A place of the plan in the bench's millimetres: they count from the centre of node (0, 0).
  field::Point place(host::PointMm in_plan) const;
  /// The result as text, as the command prints it.
  std::string text() const;

 private:
  BenchModel& bench_;
  host::TouchTest test_;
  std::string plan_file_;
  std::size_t finger_ = 0;
  bool has_finger_ = false;
  bool pressed_ = false;
  std::uint64_t seen_us_ = 0;
};

}  // namespace bareglass::view
