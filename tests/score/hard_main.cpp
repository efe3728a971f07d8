// Diagnoses the cases of a list and tells which are wrong.
//
//   bareglass_hard_cases LIST [--first]
//
// --first takes only the first case after each comment of the list: one of every kind.
// Exit code 1 if a case is told wrong, 2 if the list can't be read.

#include <fmt/format.h>

#include <cstdio>
#include <exception>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include "score.hpp"

namespace {

using namespace bareglass;

struct Entry {
  host::Cause cause = host::Cause::bare_glass;
  std::uint64_t seed = 0;
  bool is_known_wrong = false;
};

std::vector<Entry> read(const std::string& file, bool only_first) {
  std::ifstream in(file);
  if (!in) throw std::runtime_error(file + ": can't be opened");
  std::vector<Entry> entries;
  std::string line;
  bool is_first = true;
  for (int number = 1; std::getline(in, line); ++number) {
    if (line.empty() || line[0] == '#') {
      is_first = true;
      continue;
    }
    std::istringstream words(line);
    std::string name;
    std::string rest;
    Entry e;
    const std::string place = fmt::format("{}: line {}", file, number);
    if (!(words >> name >> e.seed) || ((words >> rest) && rest != "wrong") || (words >> name))
      throw std::runtime_error(place +
                               ": expected a cause, a seed and, of one that is known to be "
                               "told wrong, the word wrong");
    e.is_known_wrong = rest == "wrong";
    e.cause = score::generated_cause(name, place);
    if (is_first || !only_first) entries.push_back(e);
    is_first = false;
  }
  if (entries.empty()) throw std::runtime_error(file + ": expected at least one case");
  return entries;
}

int judge_all(const std::string& file, bool only_first) {
  int surprises = 0;
  const std::vector<Entry> entries = read(file, only_first);
  for (const Entry& e : entries) {
    const score::Case c = score::make_case(e.cause, e.seed, BAREGLASS_PANEL_FOLDER);
    const score::Judged j = score::judge(c, e.seed);
    if (j.right == !e.is_known_wrong) continue;
    ++surprises;
    fmt::print("{} {}: told {}{}\n", host::name_of(e.cause), e.seed, j.told,
               j.right ? ", right now: take its mark away" : "");
  }
  fmt::print("{} of {} cases told otherwise than the list says\n", surprises, entries.size());
  return surprises == 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    const bool only_first = argc == 3 && std::string(argv[2]) == "--first";
    if (argc != 2 && !only_first)
      throw std::runtime_error("expected the file of a list of cases, and at most --first");
    return judge_all(argv[1], only_first);
  } catch (const std::exception& e) {
    fmt::print(stderr, "bareglass_hard_cases: {}\n", e.what());
    return 2;
  }
}
