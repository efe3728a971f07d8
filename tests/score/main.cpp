// Scores the diagnosis on random cases of the simulated panel.
//
//   bareglass_score [--cases N] [--seed S] [--cause NAME]... [--no-doubles] [--threads 1|2]
//                   [--list-wrong] [--panels FOLDER] [--floor SHARE] [--max-alarms N]
//
// Seeds below 1000000 are for tuning; seeds from 1000000 on are for judgement and must never be
// looked at while limits are chosen. `--list-wrong` prints a command for each wrong case.
// With --floor or --max-alarms the exit code is 1 if the score is worse.

#include <fmt/format.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <exception>

#include "score.hpp"

namespace {

using namespace bareglass;

struct Options {
  int cases = 20;
  std::uint64_t seed = 1;
  std::vector<host::Cause> causes;
  bool doubles = true;
  int threads = 1;
  bool list_wrong = false;
  std::string panels = BAREGLASS_PANEL_FOLDER;
  double floor = 0;
  int max_alarms = -1;
};

Options parse(int argc, char** argv) {
  Options o;
  for (int k = 1; k < argc; ++k) {
    const std::string key = argv[k];
    const auto value = [&]() -> std::string {
      if (k + 1 >= argc) throw std::runtime_error(key + ": expected a value");
      return argv[++k];
    };
    if (key == "--cases")
      o.cases = std::stoi(value());
    else if (key == "--seed")
      o.seed = std::stoull(value());
    else if (key == "--cause")
      o.causes.push_back(score::generated_cause(value(), "--cause"));
    else if (key == "--no-doubles")
      o.doubles = false;
    else if (key == "--threads")
      o.threads = std::stoi(value());
    else if (key == "--list-wrong")
      o.list_wrong = true;
    else if (key == "--panels")
      o.panels = value();
    else if (key == "--floor")
      o.floor = std::stod(value());
    else if (key == "--max-alarms")
      o.max_alarms = std::stoi(value());
    else
      throw std::runtime_error(key + ": expected one of the options named at the top of " __FILE__);
  }
  if (o.causes.empty())
    o.causes = score::generated_causes();
  else
    o.doubles = false;
  return o;
}

void list_wrong(const score::Summary& summary) {
  for (const score::Judged& j : summary.cases)
    if (!j.right || j.truths_named < (j.is_double ? j.truths : 0))
      fmt::print("{} {} --seed {} --cases 1   said: {}\n", j.right ? "incomplete:" : "wrong:     ",
                 j.is_double ? std::string("(two causes)")
                             : fmt::format("--cause {}", host::name_of(j.drawn)),
                 j.seed, j.told);
}

int score_all(const Options& o) {
  const auto begin = std::chrono::steady_clock::now();
  const score::Summary s = score::run(o.causes, o.doubles, o.seed, o.cases, o.threads, o.panels);
  const double took_s =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  if (o.list_wrong) list_wrong(s);
  fmt::print("{}\n{}\n{}\n{}", s.confusion(), s.per_cause(), s.calibration(), s.several());
  fmt::print("top cause right: {:.2f} % of {} cases; wrong alarms on healthy panels: {}\n",
             100.0 * s.right_share(), s.cases.size(), s.wrong_alarms());
  fmt::print("top cause right where there is anything to see: {:.2f} %\n",
             100.0 * s.right_share_of_visible());
  fmt::print("{:.1f} cases a second\n", static_cast<double>(s.cases.size()) / took_s);
  const bool low = s.right_share() < o.floor;
  const bool alarmed = o.max_alarms >= 0 && s.wrong_alarms() > o.max_alarms;
  if (low) fmt::print("below the floor of {:.2f} %\n", 100.0 * o.floor);
  if (alarmed) fmt::print("more wrong alarms than {}\n", o.max_alarms);
  return low || alarmed ? 1 : 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return score_all(parse(argc, argv));
  } catch (const std::exception& e) {
    fmt::print(stderr, "bareglass_score: {}\n", e.what());
    return 2;
  }
}
