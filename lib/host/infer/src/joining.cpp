#include "joining.hpp"

#include <algorithm>
#include <tuple>

#include "evidence_text.hpp"

namespace bareglass::host {

namespace {

// Noise of a column over that of the panel from which it is interference and no accident: the
// middle node of ten rows or more, over 30 frames, scatters by 3 %.
constexpr float kNoisy = 1.25f;
constexpr int kNoisyWindows = 3;

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

/// Nothing but those columns, from one end towards the other: interference that stands still makes
/// such a pattern along a touched column, a thing on the glass has rows as well.
bool is_along(const CauseFound& thing, const CauseFound& interference, Shape shape) {
  return thing.has_place && thing.box.col0 + 1 >= interference.box.col0 &&
         thing.box.col1 <= interference.box.col1 + 1 && thing.box.width() <= 3 &&
         3 * thing.box.height() > shape.rows && thing.cause != Cause::wet_bezel;
}

/// Whether a thing is no more than what broken lines leave: along them, nowhere else, and all
/// along.
bool is_of_lines(const CauseFound& thing, const CauseFound& broken, Shape shape) {
  if (!broken.lines || broken.cause == Cause::interference || !thing.has_place) return false;
  const int first = broken.lines->of_rows ? thing.box.row0 : thing.box.col0;
  const int last = broken.lines->of_rows ? thing.box.row1 : thing.box.col1;
  const bool rows = broken.lines->of_rows;
  const int length = rows ? thing.box.width() : thing.box.height();
  const int whole = rows ? shape.cols : shape.rows;
  return first + 1 >= broken.lines->first && last <= broken.lines->last + 1 &&
         4 * length >= 3 * whole;
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

/// A finger on a device without earth and a thing with no way to earth of its own are one map.
void name_likenesses(CauseFound& floating, const std::vector<CauseFound>& surface) {
  for (const CauseFound& c : surface) {
    const bool touch = c.cause == Cause::touch_at_power_up || c.cause == Cause::touch_held;
    if (touch || !c.has_place || !overlaps(c.box, floating.box, 2)) continue;
    std::vector<Cause>& also = floating.or_else;
    if (also.size() < 2 && std::find(also.begin(), also.end(), c.cause) == also.end())
      also.push_back(c.cause);
  }
  floating.headline = text::headline_of_all(floating);
}

}  // namespace

void join(std::vector<CauseFound>& causes, std::vector<CauseFound> surface, const Reading& reading,
          Shape shape) {
  const bool moving = find(surface, Cause::moving_thing) != nullptr;
  drop_if(causes, [&](const CauseFound& c) {
    if (c.cause == Cause::floating_ground) return moving;
    if (c.cause == Cause::common_mode) return moving && c.confidence < kSureSwing;
    if (c.cause != Cause::interference) return false;
    if (moving) return true;
    if (surface.empty() || reading.empty() || are_noisy(c.box, reading)) return false;
    return !is_along(surface.front(), c, shape);
  });
  const CauseFound* floating = find(causes, Cause::floating_ground);
  for (CauseFound& f : causes)
    if (f.cause == Cause::floating_ground) name_likenesses(f, surface);
  const CauseFound* interference = find(causes, Cause::interference);
  const bool sag = find(causes, Cause::supply_sag) != nullptr;
  drop_if(surface, [&](const CauseFound& c) {
    if (!c.has_place) return false;
    const auto explains = [&](const CauseFound& broken) { return is_of_lines(c, broken, shape); };
    if (std::any_of(causes.begin(), causes.end(), explains)) return true;
    if (floating != nullptr && overlaps(c.box, floating->box, 2)) return true;
    if (interference != nullptr && overlaps(c.box, interference->box, 1)) return true;
    return sag && 2 * c.box.width() * c.box.height() > shape.rows * shape.cols;
  });
  for (CauseFound& c : surface) causes.push_back(std::move(c));
}

void put_surest_first(std::vector<CauseFound>& causes) {
  // What the panel copes with by itself explains less than what lies on it or is broken; a level
  // within the range of references explains least.
  const auto weight = [](const CauseFound& c) {
    if (c.cause == Cause::common_mode || c.cause == Cause::lone_node) return 2;
    if (c.cause != Cause::temperature) return 0;
    return c.sureness == Sureness::sure ? 1 : 3;
  };
  // However sure, they come after what is likely, and however likely, after what is possible.
  const auto rank = [&](const CauseFound& c) {
    const int told = static_cast<int>(c.sureness);
    return weight(c) < 2 ? told : std::min(told + 1, static_cast<int>(Sureness::possible));
  };
  std::stable_sort(causes.begin(), causes.end(), [&](const CauseFound& x, const CauseFound& y) {
    return std::tuple(rank(x), weight(x)) < std::tuple(rank(y), weight(y));
  });
}

}  // namespace bareglass::host
