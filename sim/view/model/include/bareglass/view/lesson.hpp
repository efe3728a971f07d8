#pragma once
// A prepared lesson: a scene, steps with text, a prediction asked before the answer. The answer is
// judged by what the panel's physics and the running core did; nothing in the file says which
// choice is right. The format is described in sim/view/lessons/LESSONS.md.

#include <optional>
#include <string>
#include <vector>

#include "bareglass/panel/scenario.hpp"

namespace bareglass::view {

/// "QUANTITY ARGUMENT OPERATOR VALUE", see LESSONS.md.
struct LessonCondition {
  enum class Operator { is, is_not, below, at_most, above, at_least };
  std::string quantity;
  std::string argument;
  Operator op = Operator::is;
  std::string word;     ///< is, is not
  double number = 0.0;  ///< the others
};

struct LessonChoice {
  std::string text;
  std::vector<LessonCondition> when;  ///< all of them hold if this is what happened
};

struct LessonStep {
  std::string title;
  std::string text;      ///< before the run; with placeholders
  std::string question;  ///< empty: nothing is predicted
  std::vector<LessonChoice> choices;
  std::string after;  ///< after the run; with placeholders
  /// The scene from its beginning, unpowered; absent: it goes on as it is.
  std::optional<panel::Scenario> fresh;
  std::vector<panel::Event> events;  ///< at_s counts from the step's beginning
  double run_s = 0.0;
};

struct Lesson {
  std::string name;  ///< file name without its ending: "damp-note"
  std::string title;
  std::string about;  ///< one sentence
  int order = 0;      ///< place in the list
  panel::Scenario scene;
  std::vector<LessonStep> steps;
};

/// Reads a lesson. Throws host::CaptureError naming the file, the line, the key and what was
/// expected; also for a placeholder or a condition that means nothing.
Lesson load_lesson(const std::string& path);
Lesson parse_lesson(const std::string& text, const std::string& file);

/// The lessons that ship, in their order.
const std::vector<Lesson>& built_in_lessons();

}  // namespace bareglass::view
