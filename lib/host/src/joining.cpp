#include "joining.hpp"

#include <algorithm>

namespace bareglass::host {

namespace {

// A thing that moves over a small panel moves its rows, too; a swing this sure is more than that.
constexpr double kSureSwing = 0.8;

const CauseFound* find(const std::vector<CauseFound>& causes, Cause cause) {
  const auto it = std::find_if(causes.begin(), causes.end(),
                               [&](const CauseFound& c) { return c.cause == cause; });
  return it == causes.end() ? nullptr : &*it;
}

template <typename Goes>
void drop_if(std::vector<CauseFound>& causes, Goes goes) {
  causes.erase(std::remove_if(causes.begin(), causes.end(), goes), causes.end());
}

}  // namespace

void join(std::vector<CauseFound>& causes, std::vector<CauseFound> surface, Shape shape) {
  const bool moving = find(surface, Cause::moving_thing) != nullptr;
  drop_if(causes, [&](const CauseFound& c) {
    if (!moving) return false;
    if (c.cause == Cause::common_mode) return c.confidence < kSureSwing;
    return c.cause == Cause::floating_ground || c.cause == Cause::interference;
  });
  const CauseFound* floating = find(causes, Cause::floating_ground);
  const CauseFound* interference = find(causes, Cause::interference);
  const bool sag = find(causes, Cause::supply_sag) != nullptr;
  drop_if(surface, [&](const CauseFound& c) {
    if (!c.has_place) return false;
    if (floating != nullptr && overlaps(c.box, floating->box, 2)) return true;
    if (interference != nullptr && overlaps(c.box, interference->box, 1)) return true;
    return sag && 2 * c.box.width() * c.box.height() > shape.rows * shape.cols;
  });
  for (CauseFound& c : surface) causes.push_back(std::move(c));
}

}  // namespace bareglass::host
