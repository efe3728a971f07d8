#include "bareglass/advise/next_steps.hpp"

#include <algorithm>

#include "bareglass/replay/input_course.hpp"
#include "shipped_steps.hpp"

namespace bareglass::host {

namespace {

bool holds(StepWord word, const Account& a) {
  switch (word) {
    case StepWord::input_on:
      return input_course(a).on;
    case StepWord::input_on_bare:
      return input_course(a).on_bare();
    case StepWord::input_was_off:
      return input_course(a).refused;
    case StepWord::from_power_up:
      return a.kind == DumpKind::from_power_up;
    case StepWord::factory_reference:
      return a.has_reference;
    case StepWord::device_reported_off:
      return std::any_of(a.device_journal.begin(), a.device_journal.end(),
                         [](const JournalRecord& r) { return r.code == JournalCode::input_off; });
    case StepWord::docked:
      return a.docked.value_or(false);
    case StepWord::undocked:
      return !a.docked.value_or(true);
  }
  return false;
}

bool is_about(const StepRule& rule, const CauseFound& found) {
  const auto is_named = [&](Cause cause) {
    return std::find(rule.causes.begin(), rule.causes.end(), cause) != rule.causes.end();
  };
  return is_named(found.cause) || std::any_of(found.or_else.begin(), found.or_else.end(), is_named);
}

bool applies(const StepRule& rule, const std::vector<CauseFound>& causes, const Account& account) {
  const auto word_holds = [&](StepWord word) { return holds(word, account); };
  const auto is_ours = [&](const CauseFound& c) { return is_about(rule, c); };
  const auto is_sure_enough = [&](const CauseFound& c) {
    return is_ours(c) && c.confidence >= rule.confidence_from;
  };
  return std::any_of(causes.begin(), causes.end(), is_sure_enough) &&
         (!rule.only || std::all_of(causes.begin(), causes.end(), is_ours)) &&
         std::all_of(rule.when.begin(), rule.when.end(), word_holds) &&
         std::none_of(rule.unless.begin(), rule.unless.end(), word_holds);
}

}  // namespace

const StepTable& shipped_steps() {
  static const StepTable table = parse_steps(kShippedSteps, "the steps that ship with the program");
  return table;
}

std::vector<NextStep> steps_for(const StepTable& table, const std::vector<CauseFound>& causes,
                                const Account& account) {
  std::vector<NextStep> steps;
  for (const StepRule& rule : table.rules)
    if (applies(rule, causes, account)) steps.push_back(rule.step);
  return steps;
}

}  // namespace bareglass::host
