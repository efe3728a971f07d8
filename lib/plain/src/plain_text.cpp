#include "bareglass/plain/plain_text.hpp"

#include <cctype>
#include <sstream>

namespace bareglass::plain {

namespace {

constexpr std::size_t kWidth = 80;

bool is_number(const std::string& word) {
  return !word.empty() && std::isdigit(static_cast<unsigned char>(word.back())) != 0;
}

bool next_is_unit(std::istringstream& words) {
  const auto here = words.tellg();
  std::string next;
  if (here < 0 || !(words >> next)) {
    words.clear();
    return false;
  }
  words.clear();
  words.seekg(here);
  return next.front() == '%' || next == "s" || next == "ms" || next.rfind("mm", 0) == 0 ||
         next.rfind("s.", 0) == 0;
}

}  // namespace

std::string wrapped(const std::string& lead, const std::string& text) {
  const std::string indent(lead.size(), ' ');
  std::string out;
  std::string line = lead;
  std::istringstream words(text);
  for (std::string word; words >> word;) {
    const bool fresh = line.size() == lead.size();
    // A unit stays with its number.
    const bool unit_follows = is_number(word) && next_is_unit(words);
    if (unit_follows) {
      std::string unit;
      words >> unit;
      word += ' ' + unit;
    }
    if (!fresh && line.size() + 1 + word.size() > kWidth) {
      out += line + '\n';
      line = indent;
    }
    if (line.size() > lead.size()) line += ' ';
    line += word;
  }
  return out + line + '\n';
}

}  // namespace bareglass::plain
