#pragma once
// One lesson being given. Simulated time stands still while a text is read and an answer is
// thought over.

#include <memory>
#include <optional>
#include <string>

#include "bareglass/view/bench_model.hpp"
#include "bareglass/view/lesson.hpp"

namespace bareglass::view {

/// A measured quantity. A number that is not known (input never came on) is shown as a word.
struct Reading {
  std::optional<double> number;
  std::string word;   ///< for `is`; the number's, too
  std::string shown;  ///< with its unit
};

/// Watches a bench from step to step and answers for every quantity that lessons may name.
class LessonWatch {
 public:
  explicit LessonWatch(BenchModel& bench) : bench_(bench) {}

  /// Forgets what was seen in the step before.
  void begin_step();
  /// To be called after every frame.
  void see(const panel::LiveUnit::Step& step);

  /// Precondition: is_quantity(), and a thing that exists where one is asked for.
  Reading read(const std::string& quantity, const std::string& argument);
  /// Replaces every {placeholder}.
  std::string fill(const std::string& text);
  bool holds(const LessonCondition& condition);

  /// What argument a quantity takes.
  enum class Takes { nothing, thing, node };
  /// Nothing if there is no such quantity.
  static std::optional<Takes> is_quantity(const std::string& name);
  /// All names, for messages.
  static std::string quantity_names();

 private:
  Reading of_state(const std::string& quantity);
  Reading of_contacts(const std::string& quantity);
  Reading of_signals(const std::string& quantity, const std::string& argument);
  Reading of_settings(const std::string& quantity);
  double percent_of_finger(const std::string& thing);
  double percent_shown(const std::string& thing);
  double raw_change(const std::string& node);
  double percent(std::int32_t counts) const;

  BenchModel& bench_;
  int contacts_most_ = 0;
  int nobody_made_ = 0;
  bool was_off_ = false;
  double highest_ = 0.0, lowest_ = 0.0;
  std::uint64_t power_up_us_ = 0;
  std::optional<double> on_after_s_;
  FindingKind finding_ = FindingKind::none;
  int looks_ = 0;
};

class LessonRun {
 public:
  enum class Stage {
    asking,    ///< the text is read; a prediction is asked for, or only a word to go on
    running,   ///< the step's events happen
    answered,  ///< what happened is told
    finished,  ///< the last step is over
  };

  /// Begins with the first step.
  explicit LessonRun(Lesson lesson);

  const Lesson& lesson() const { return lesson_; }
  BenchModel& bench() { return *bench_; }
  Stage stage() const { return stage_; }
  std::size_t step_number() const { return number_; }
  const LessonStep& step() const { return lesson_.steps[number_]; }
  /// The step's text, numbers filled in as the physics have them now.
  const std::string& text() const { return text_; }

  /// Takes the prediction and lets the step run. Precondition: asking, and a choice that exists.
  void predict(std::size_t choice);
  /// For a step without a question. Precondition: asking.
  void go_on();
  /// Lets simulated time pass; does nothing unless running.
  void advance(double seconds);
  /// Runs the step to its end at once.
  void finish_running();

  std::optional<std::size_t> prediction() const { return prediction_; }
  /// The choice that is what happened; nothing if none or several are (a defect of the lesson).
  std::optional<std::size_t> right_choice() const { return right_; }
  /// What happened, in words. Only when answered.
  const std::string& after() const { return after_; }
  /// The next step, or the end. Precondition: answered.
  void next();
  /// Goes to a step: fresh ones are set up; for others those before run first.
  void go_to(std::size_t step);
  LessonWatch& watch() { return *watch_; }

 private:
  void begin_step();
  void run();
  void judge();

  Lesson lesson_;
  std::unique_ptr<BenchModel> bench_;
  std::unique_ptr<LessonWatch> watch_;
  std::size_t number_ = 0;
  Stage stage_ = Stage::asking;
  double left_s_ = 0.0;
  std::string text_, after_;
  std::optional<std::size_t> prediction_, right_;
};

}  // namespace bareglass::view
