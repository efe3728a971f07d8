#include "lesson_words.hpp"

#include <charconv>
#include <sstream>
#include <vector>

namespace bareglass::view {

namespace {

std::vector<std::string> words_of(const std::string& text) {
  std::istringstream in(text);
  std::vector<std::string> out;
  for (std::string word; in >> word;) out.push_back(word);
  return out;
}

std::string joined(const std::vector<std::string>& words, std::size_t from, std::size_t to) {
  std::string out;
  for (std::size_t k = from; k < to; ++k) out += (out.empty() ? "" : " ") + words[k];
  return out;
}

template <typename T>
std::optional<T> number_of(const std::string& word) {
  T value{};
  const char* end = word.data() + word.size();
  const auto read = std::from_chars(word.data(), end, value);
  if (read.ec != std::errc{} || read.ptr != end) return std::nullopt;
  return value;
}

std::optional<LessonCondition::Operator> operator_of(const std::string& word) {
  using Operator = LessonCondition::Operator;
  if (word == "is") return Operator::is;
  if (word == "<") return Operator::below;
  if (word == "<=") return Operator::at_most;
  if (word == ">") return Operator::above;
  if (word == ">=") return Operator::at_least;
  return std::nullopt;
}

}  // namespace

Phrase phrase_of(const std::string& text) {
  const std::vector<std::string> words = words_of(text);
  if (words.empty()) return {};
  return {words[0], joined(words, 1, words.size())};
}

std::optional<NodeWord> node_of(const std::string& argument) {
  const std::vector<std::string> words = words_of(argument);
  if (words.size() != 2) return std::nullopt;
  const auto row = number_of<int>(words[0]);
  const auto column = number_of<int>(words[1]);
  if (!row || !column || *row < 0 || *column < 0) return std::nullopt;
  return NodeWord{*row, *column};
}

std::optional<LessonCondition> condition_of(const std::string& text, std::string& problem) {
  const std::vector<std::string> words = words_of(text);
  for (std::size_t k = words.size(); k-- > 1;) {
    const auto op = operator_of(words[k]);
    if (!op) continue;
    LessonCondition out;
    out.quantity = words[0];
    out.argument = joined(words, 1, k);
    out.op = *op;
    std::size_t value = k + 1;
    if (*op == LessonCondition::Operator::is && value < words.size() && words[value] == "not") {
      out.op = LessonCondition::Operator::is_not;
      ++value;
    }
    out.word = joined(words, value, words.size());
    const bool by_word =
        out.op == LessonCondition::Operator::is || out.op == LessonCondition::Operator::is_not;
    const auto number = number_of<double>(out.word);
    if (by_word ? out.word.empty() : !number) {
      problem = by_word ? "expected a word at its end" : "expected a number at its end";
      return std::nullopt;
    }
    out.number = number.value_or(0.0);
    return out;
  }
  problem = "expected QUANTITY, then is, is not, <, <=, > or >=, then a value";
  return std::nullopt;
}

std::string for_each_placeholder(const std::string& text,
                                 const std::function<std::string(const std::string&)>& say) {
  std::string out;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t open = text.find('{', at);
    const std::size_t close = open == std::string::npos ? open : text.find('}', open);
    if (close == std::string::npos) break;
    out += text.substr(at, open - at) + say(text.substr(open + 1, close - open - 1));
    at = close + 1;
  }
  return out + text.substr(at);
}

}  // namespace bareglass::view
