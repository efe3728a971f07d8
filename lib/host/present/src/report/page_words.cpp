#include "bareglass/present/page_words.hpp"

#include <fmt/format.h>

#include <cmath>

#include "bareglass/words/text.hpp"

namespace bareglass::host::report {

std::string badge(const Account& a) {
  if (a.kind != DumpKind::from_power_up) return "POWER-UP NOT RECORDED";
  switch (a.final_state) {
    case InputState::running:
      return "INPUT ON";
    case InputState::unpowered:
    case InputState::settling:
    case InputState::looking:
      return "NOT DECIDED";
    default:
      return "INPUT OFF";
  }
}

std::string sureness(const CauseFound& c) {
  // Every band of CALIBRATION.md reaches its lower end in tens, but not each reaches what is told.
  return fmt::format(
      "{}; on simulated panels at least {} of 10 findings told this surely were right",
      text::sureness(c), static_cast<int>(std::floor(10.0 * c.confidence + 1e-9)));
}

std::string lines_found(const LinesFound& l) {
  if (l.at < 0 && l.first == l.last)
    return fmt::format(l.of_rows ? "row {}" : "column {}", l.first);
  if (l.at < 0)
    return fmt::format(l.of_rows ? "rows {} to {}" : "columns {} to {}", l.first, l.last);
  if (l.first == l.last)
    return fmt::format(l.of_rows ? "row {}, cut between columns {} and {}"
                                 : "column {}, cut between rows {} and {}",
                       l.first, l.at - 1, l.at);
  return fmt::format(l.of_rows
                         ? "rows {} to {}, cut from column {} at row {} to column {} at row {}"
                         : "columns {} to {}, cut from row {} at column {} to row {} at "
                           "column {}",
                     l.first, l.last, l.at, l.first, l.at_last, l.last);
}

}  // namespace bareglass::host::report
