#pragma once
// The small language of placeholders and conditions.

#include <functional>
#include <optional>
#include <string>

#include "bareglass/view/lesson.hpp"

namespace bareglass::view {

/// "percent_of_finger damp note": a quantity and what it is asked about.
struct Phrase {
  std::string quantity;
  std::string argument;
};
Phrase phrase_of(const std::string& text);

/// "5 8": a row and a column.
struct NodeWord {
  int row = 0;
  int column = 0;
};
std::optional<NodeWord> node_of(const std::string& argument);

/// Nothing, and `problem` says what was expected, for a text that is no condition.
std::optional<LessonCondition> condition_of(const std::string& text, std::string& problem);

/// The text with every {placeholder} replaced by what `say` makes of its inside.
std::string for_each_placeholder(const std::string& text,
                                 const std::function<std::string(const std::string&)>& say);

}  // namespace bareglass::view
