#pragma once
// What to do about what was found: a table of steps read from a data file, cheapest first.
// The format is described in lib/host/advise/data/NEXT_STEPS.md.

#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

/// What a step may ask of a dump.
enum class StepWord {
  input_on,
  input_on_bare,
  input_was_off,
  from_power_up,
  factory_reference,
  device_reported_off,
  docked,
  undocked
};

struct StepRule {
  NextStep step;
  std::vector<Cause> causes;  ///< at least one
  std::vector<StepWord> when;
  std::vector<StepWord> unless;
  bool only = false;             ///< no cause outside `causes` may have been found
  double confidence_from = 0.0;  ///< 0..1
};

struct StepTable {
  std::vector<StepRule> rules;        ///< in the order of printing; every cause has at least one
  std::vector<std::string> cautions;  ///< at least one
};

/// Reads `path`. Throws CaptureError that names the file, the line and what was expected.
StepTable read_steps(const std::string& path);
/// The same from text; `file` names it in errors.
StepTable parse_steps(const std::string& text, const std::string& file);
/// The table that ships with the program.
const StepTable& shipped_steps();

/// The steps whose conditions hold, in the table's order.
std::vector<NextStep> steps_for(const StepTable& table, const std::vector<CauseFound>& causes,
                                const Account& account);

}  // namespace bareglass::host
