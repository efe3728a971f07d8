#include "bareglass/answer/cause_group.hpp"

namespace bareglass::host {

CauseGroup group_of(Cause cause) {
  switch (cause) {
    case Cause::bare_glass:
    case Cause::not_enough:
      return CauseGroup::none;
    case Cause::lone_node:
    case Cause::open_line:
    case Cause::crack:
    case Cause::bridged_lines:
    case Cause::raised_resistance:
    case Cause::worn_tail:
    case Cause::intermittent_line:
      return CauseGroup::lines;
    case Cause::interference:
    case Cause::common_mode:
    case Cause::floating_ground:
    case Cause::supply_sag:
    case Cause::temperature:
    case Cause::aged_reference:
      return CauseGroup::electronics;
    default:
      return CauseGroup::glass;
  }
}

const char* name_of(CauseGroup group) {
  static constexpr const char* kNames[] = {"none", "glass", "lines", "electronics"};
  return kNames[static_cast<int>(group)];
}

bool same_thing(const CauseFound& x, const CauseFound& y) {
  if (group_of(x.cause) != group_of(y.cause)) return false;
  if (x.lines && y.lines)
    return x.lines->of_rows == y.lines->of_rows && x.lines->first <= y.lines->last &&
           y.lines->first <= x.lines->last;
  if (x.has_place && y.has_place) return overlaps(x.box, y.box, 1);
  return x.cause == y.cause;
}

}  // namespace bareglass::host
