#pragma once
// What was found of lines and electrics -> causes with what speaks for and against each.

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

struct Blind;
struct LineGroup;
struct ElectricalFound;

/// A panel that reads nothing: as a tail of which all lines are open.
bool is_blind(const CauseFound& cause, Shape shape);
CauseFound weigh_blind(const Blind& blind, const Account& account);
CauseFound weigh_lines(const LineGroup& group, const Account& account);
CauseFound weigh_electrical(const ElectricalFound& found, const Account& account);

}  // namespace bareglass::host
