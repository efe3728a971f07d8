// Holds the confidence of the core's findings against generated cases.
//
//   bareglass_core_reliability [--cases N] [--seed S] [--cause NAME]... [--list] [--floor SHARE]
//
// Prints, for steps of confidence, how many findings were told with it and how many of them were
// right, over N cases of every cause and N with two causes, or of the causes named. With
// --floor the exit code is 1 if of the findings told with 870 permille or more a smaller share is
// right. Seeds below
// 1000000 are for tuning.

#include <fmt/format.h>

#include <cstdio>
#include <exception>
#include <stdexcept>
#include <string>
#include <vector>

#include "core_findings.hpp"

namespace {

using namespace bareglass;

void append(std::vector<score::CoreFinding>& all, const score::Case& c, std::uint64_t seed) {
  for (const score::CoreFinding& f : score::core_findings(c, seed)) all.push_back(f);
}

int run(int argc, char** argv) {
  int cases = 10;
  std::uint64_t seed = 1;
  bool list = false;
  double floor = 0;
  std::vector<host::Cause> causes;
  for (int k = 1; k < argc; ++k) {
    const std::string key = argv[k];
    if (key == "--list") {
      list = true;
      continue;
    }
    if (k + 1 >= argc ||
        (key != "--cases" && key != "--seed" && key != "--cause" && key != "--floor"))
      throw std::runtime_error(
          key + ": expected --cases N, --seed S, --cause NAME, --floor SHARE or --list");
    if (key == "--cause")
      causes.push_back(score::generated_cause(argv[++k], "--cause"));
    else if (key == "--floor")
      floor = std::stod(argv[++k]);
    else if (key == "--cases")
      cases = std::stoi(argv[++k]);
    else
      seed = std::stoull(argv[++k]);
  }
  const bool doubles = causes.empty();
  if (causes.empty()) causes = score::generated_causes();
  std::vector<score::CoreFinding> all;
  for (int n = 0; n < cases; ++n) {
    const std::uint64_t own = seed + static_cast<std::uint64_t>(n);
    for (const host::Cause cause : causes)
      append(all, score::make_case(cause, own, BAREGLASS_PANEL_FOLDER), own);
    if (doubles) append(all, score::make_double_case(own, BAREGLASS_PANEL_FOLDER), own);
  }
  std::fputs(list ? score::listing(all).c_str() : score::reliability(all, true).c_str(), stdout);
  const double right = score::right_share_from(all, 870);
  if (right < floor) fmt::print("right of those told with 870 and more: {:.3f}\n", right);
  return right < floor ? 1 : 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& e) {
    fmt::print(stderr, "bareglass_core_reliability: {}\n", e.what());
    return 2;
  }
}
