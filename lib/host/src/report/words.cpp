#include "words.hpp"

#include <fmt/format.h>

#include <cmath>

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
  return fmt::format("{}; of findings told as surely as this one, about {} in 100 are right",
                     name_of(c.sureness), std::lround(100.0 * c.confidence));
}

std::string lines_found(const LinesFound& l) {
  const char* one = l.of_rows ? "row" : "column";
  std::string out = l.first == l.last ? fmt::format("{} {}", one, l.first)
                                      : fmt::format("{}s {} to {}", one, l.first, l.last);
  if (l.at > 0)
    out += fmt::format(", cut between {}s {} and {}", l.of_rows ? "column" : "row", l.at - 1, l.at);
  return out;
}

}  // namespace bareglass::host::report
