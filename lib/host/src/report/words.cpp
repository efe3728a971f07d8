#include "words.hpp"

#include <fmt/format.h>

#include <cmath>

namespace bareglass::host::report {

const char* title(Cause cause) {
  static constexpr const char* kTitles[] = {
      "Nothing on the glass",
      "Touch at power-up",
      "Touch that stays",
      "Damp note or film, isolated",
      "Film that dries",
      "Wide wet film, hand or foil",
      "Fluid at the bezel",
      "Isolated streak",
      "Something moving",
      "Unknown object",
      "Single node",
      "Dry film",
      "Drops",
      "Residue",
      "Open line",
      "Cracked sensor",
      "Bridged lines",
      "Raised resistance",
      "Worn tail",
      "Intermittent line",
      "Interference",
      "Common mode",
      "Floating ground",
      "Supply sag",
      "Not enough to tell",
  };
  static_assert(sizeof kTitles / sizeof *kTitles == kCauseCount, "one title for each cause");
  return kTitles[static_cast<int>(cause)];
}

Ground ground_of(Cause cause) {
  switch (cause) {
    case Cause::bare_glass:
    case Cause::not_enough:
      return Ground::nothing;
    case Cause::lone_node:
    case Cause::open_line:
    case Cause::crack:
    case Cause::bridged_lines:
    case Cause::raised_resistance:
    case Cause::worn_tail:
    case Cause::intermittent_line:
      return Ground::in_unit;
    case Cause::interference:
    case Cause::common_mode:
    case Cause::floating_ground:
    case Cause::supply_sag:
      return Ground::around_unit;
    default:
      return Ground::on_glass;
  }
}

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
