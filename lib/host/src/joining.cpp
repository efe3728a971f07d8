#include "joining.hpp"

#include <algorithm>

namespace bareglass::host {

namespace {

// Noise of a column over that of the panel from which it is interference and no accident: the
// middle node of ten rows or more, over 30 frames, scatters by 3 %.
constexpr float kNoisy = 1.25f;
constexpr int kNoisyWindows = 3;

const CauseFound* find(const std::vector<CauseFound>& causes, Cause cause) {
  const auto it = std::find_if(causes.begin(), causes.end(),
                               [&](const CauseFound& c) { return c.cause == cause; });
  return it == causes.end() ? nullptr : &*it;
}

template <typename Goes>
void drop_if(std::vector<CauseFound>& causes, Goes goes) {
  causes.erase(std::remove_if(causes.begin(), causes.end(), goes), causes.end());
}

/// Whether the columns of `box` are noisier from frame to frame than the panel.
bool are_noisy(const Box& box, const Reading& reading) {
  int noisy = 0;
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    const std::vector<float>& noise = reading.window(k).noise;
    const float typical = std::max(0.3f, quantile(noise, 0.4));
    for (int c = box.col0; c <= box.col1; ++c) {
      std::vector<float> column;
      for (int r = 0; r < reading.shape().rows; ++r) column.push_back(noise[reading.node_at(r, c)]);
      if (quantile(std::move(column), 0.25) < kNoisy * typical) continue;
      ++noisy;
      break;
    }
  }
  return noisy >= kNoisyWindows;
}

}  // namespace

void join(std::vector<CauseFound>& causes, std::vector<CauseFound> surface, const Reading& reading,
          Shape shape) {
  const bool moving = find(surface, Cause::moving_thing) != nullptr;
  drop_if(causes, [&](const CauseFound& c) {
    if (c.cause == Cause::floating_ground) return moving;
    if (c.cause != Cause::interference) return false;
    return moving || (!surface.empty() && !reading.empty() && !are_noisy(c.box, reading));
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
