// What the counts say about taping, and what they do not.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/fleet/fleet.hpp"
#include "fleet_format.hpp"

namespace bareglass::host {

namespace {

constexpr double kLevel = 0.05;
// Common practice: expected counts below five make large-sample methods unsafe, and small tables
// hinge on single units even with an exact test.
constexpr double kLeastExpected = 5.0;

std::string group(const char* what, std::uint32_t failed, std::uint32_t on) {
  const std::uint32_t all = failed + on;
  return fmt::format("{} {}: {} failed at power-up ({})", all, what, failed,
                     share_words({failed, all, wilson(failed, all)}));
}

double least_expected(const TwoByTwo& t) {
  const double sum = static_cast<double>(t.sum());
  const double taped = t.a + t.b, untaped = t.c + t.d, failed = t.a + t.c, on = t.b + t.d;
  return std::min(taped, untaped) * std::min(failed, on) / sum;
}

std::string odds_words(const OddsRatio& o) {
  return fmt::format("Odds ratio, failing with tape against without: {}, 95 % interval {} to {}.",
                     number_words(o.estimate), number_words(o.interval.low),
                     number_words(o.interval.high));
}

std::string verdict(const Fleet& f) {
  if (f.fisher.two_sided < kLevel) {
    return f.odds.estimate > 1.0
               ? "Taped units failed more often than the others by more than chance would explain."
               : "Taped units failed less often than the others by more than chance would explain.";
  }
  return "That is no more than chance would explain. It does not show that tape is harmless: see "
         "how wide the interval is.";
}

}  // namespace

std::string finger_words(const Fleet& f) {
  return fmt::format(
      "{} {} not state the signal of a finger; it follows from the settings or from the bare "
      "reading (bareglass explain says how).",
      f.finger_not_stated, f.finger_not_stated == 1 ? "dump does" : "dumps do");
}

std::string adopted_words(const Fleet& f) {
  return fmt::format(
      "Counted as on though something lay on the glass: {} (start-up \"adopted\"). Their firmware "
      "takes it into the baseline, so input came on, but where it lay touch may fail.",
      f.adopted);
}

std::string off_words(OffBecause why) {
  static constexpr const char* kWords[] = {
      "something on the glass",           "lines or single nodes",
      "temperature or an aged reference", "noise",
      "supply or the way to earth",       "off for another reason: nothing was found"};
  return kWords[static_cast<int>(why)];
}

std::vector<std::string> association_words(const Fleet& f) {
  std::vector<std::string> words;
  const TwoByTwo& t = f.table;
  if (t.a + t.b == 0 || t.c + t.d == 0) {
    words.push_back(fmt::format("No comparison: there are no {} units with a known start-up.",
                                t.a + t.b == 0 ? "taped" : "untaped"));
    return words;
  }
  words.push_back(group("taped", t.a, t.b) + ". " + group("not taped", t.c, t.d) + ".");
  if (!f.odds.defined) {
    words.push_back(fmt::format("No comparison: {} of them failed, so there is nothing to compare.",
                                t.a + t.c == 0 ? "none" : "all"));
    return words;
  }
  words.push_back(
      fmt::format("Fisher's exact test, two-sided: p = {}.", p_words(f.fisher.two_sided)));
  words.push_back(odds_words(f.odds));
  if (f.fisher.least_two_sided >= kLevel)
    words.push_back(
        fmt::format("Too few units: with these totals even the most one-sided outcome gives p = "
                    "{}. Nothing can be claimed.",
                    p_words(f.fisher.least_two_sided)));
  else
    words.push_back(verdict(f));
  if (least_expected(t) < kLeastExpected)
    words.emplace_back(
        "The counts are small: one more unit either way can change this. Collect more "
        "before acting on it.");
  words.emplace_back(
      "An association is not a cause: taped units may differ in ward, age or cleaning, or were "
      "taped because they had failed. Dry tape alone hardly moves a reading; what it holds does.");
  return words;
}

}  // namespace bareglass::host
