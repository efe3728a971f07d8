#include "surface_survey.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace bareglass::host {

namespace {

using Map = std::vector<float>;

/// Median over the windows from..to - 1, node by node: a touch in a few of them leaves no trace.
Map median_map(const Reading& reading, std::size_t from, std::size_t to, bool against_base,
               std::size_t other_from, std::size_t other_to) {
  std::vector<Map> maps;
  for (std::size_t k = from; k < to; ++k) {
    if (against_base) {
      maps.push_back(reading.departure(k));
      continue;
    }
    // Each window against one of the other part, in turn.
    const std::size_t other = other_from + (k - from) % (other_to - other_from);
    maps.push_back(reading.change(other, k));
  }
  Map out(reading.base().size(), 0.f);
  std::vector<float> values(maps.size());
  for (std::size_t i = 0; i < out.size(); ++i) {
    for (std::size_t k = 0; k < maps.size(); ++k) values[k] = maps[k][i];
    out[i] = quantile(values, 0.5);
  }
  return out;
}

/// Mean over 3 x 3 nodes.
Map blurred(const Map& map, Shape shape) {
  Map out(map.size());
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      float sum = 0.f;
      int n = 0;
      for (int y = std::max(0, r - 1); y <= std::min(shape.rows - 1, r + 1); ++y)
        for (int x = std::max(0, c - 1); x <= std::min(shape.cols - 1, c + 1); ++x) {
          sum += map[static_cast<std::size_t>(y * shape.cols + x)];
          ++n;
        }
      out[static_cast<std::size_t>(r * shape.cols + c)] = sum / static_cast<float>(n);
    }
  return out;
}

/// Sizes of the connected sets (8 neighbours) of marked nodes.
std::vector<int> blobs_of(std::vector<char> marked, Shape shape) {
  std::vector<int> sizes;
  std::vector<int> open;
  for (int start = 0; start < shape.nodes(); ++start) {
    if (!marked[static_cast<std::size_t>(start)]) continue;
    int size = 0;
    open.push_back(start);
    marked[static_cast<std::size_t>(start)] = 0;
    while (!open.empty()) {
      const int at = open.back();
      open.pop_back();
      ++size;
      for (int dr = -1; dr <= 1; ++dr)
        for (int dc = -1; dc <= 1; ++dc) {
          const int r = at / shape.cols + dr;
          const int c = at % shape.cols + dc;
          if (r < 0 || c < 0 || r >= shape.rows || c >= shape.cols) continue;
          char& mark = marked[static_cast<std::size_t>(r * shape.cols + c)];
          if (mark) open.push_back(r * shape.cols + c);
          mark = 0;
        }
    }
    sizes.push_back(size);
  }
  return sizes;
}

SurfaceFeatures features_of(const Map& map, Shape shape, double finger, double noise) {
  SurfaceFeatures f;
  f.noise = noise / finger;
  const Map soft = blurred(map, shape);
  float deepest = 0.f;
  for (std::size_t i = 0; i < map.size(); ++i) {
    f.raised = std::max(f.raised, static_cast<double>(-map[i]) / finger);
    f.lowered = std::max(f.lowered, static_cast<double>(map[i]) / finger);
    deepest = std::max(deepest, -soft[i]);
  }
  // A third of the noise is left after averaging nine nodes; six times that is no accident on any
  // panel. Strong things are outlined at a third of their depth.
  const double soft_limit = std::max(2.6 * noise, 0.33 * static_cast<double>(deepest));
  std::vector<char> raised(map.size(), 0);
  std::vector<char> lowered(map.size(), 0);
  const double low_limit = std::max(5.0 * noise, 0.33 * f.lowered * finger);
  f.box = {255, 0, 255, 0};
  f.lowered_box = {255, 0, 255, 0};
  const auto include = [](Box& box, int r, int c) {
    box.row0 = std::min<std::uint8_t>(box.row0, static_cast<std::uint8_t>(r));
    box.row1 = std::max<std::uint8_t>(box.row1, static_cast<std::uint8_t>(r));
    box.col0 = std::min<std::uint8_t>(box.col0, static_cast<std::uint8_t>(c));
    box.col1 = std::max<std::uint8_t>(box.col1, static_cast<std::uint8_t>(c));
  };
  double sum = 0;
  double lowered_sum = 0;
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const auto i = static_cast<std::size_t>(r * shape.cols + c);
      lowered[i] = static_cast<double>(map[i]) > low_limit;
      if (lowered[i]) {
        ++f.lowered_nodes;
        lowered_sum += static_cast<double>(map[i]) / finger;
        include(f.lowered_box, r, c);
      }
      if (static_cast<double>(-soft[i]) < soft_limit || -map[i] <= 0.f) continue;
      raised[i] = 1;
      ++f.raised_nodes;
      sum -= static_cast<double>(map[i]) / finger;
      include(f.box, r, c);
    }
  if (f.lowered_nodes > 0) f.lowered_mean = lowered_sum / f.lowered_nodes;
  f.lowered_blobs = static_cast<int>(blobs_of(lowered, shape).size());
  if (f.raised_nodes == 0) return f;
  f.raised_mean = sum / f.raised_nodes;
  f.filled = static_cast<double>(f.raised_nodes) / (f.box.width() * f.box.height());
  // Separate places at half depth, on the sharp map: blurring joins drops.
  const double half = std::max(4.0 * noise, 0.35 * f.raised * finger);
  std::vector<char> sharp(map.size(), 0);
  for (std::size_t i = 0; i < map.size(); ++i) sharp[i] = static_cast<double>(-map[i]) > half;
  const std::vector<int> sizes = blobs_of(sharp, shape);
  f.blobs = static_cast<int>(sizes.size());
  for (const int s : sizes) f.largest_blob = std::max(f.largest_blob, s);
  return f;
}

}  // namespace

SurfaceFeatures survey_surface(const Reading& reading, const Account& account) {
  SurfaceFeatures best;
  SurfaceFeatures best_raised;  // of maps where what is lowered does not outweigh it
  const std::size_t all = reading.windows();
  if (all < 2) return best;
  const double finger = std::max<int>(16, account.settings.finger_counts);
  const std::size_t part = std::max<std::size_t>(1, all / 3);
  const std::size_t starts[] = {0, (all - part) / 2, all - part};
  const auto consider = [&](std::size_t from, std::size_t length, std::size_t other,
                            bool against_base) {
    int frames = 0;
    for (std::size_t k = from; k < from + length; ++k) frames += reading.window(k).frames;
    // The median of means is a quarter noisier than their mean; a difference has both parts' noise;
    // whole counts leave 0.3 counts.
    const double noise = std::hypot(static_cast<double>(reading.noise()) * 1.25 *
                                        std::sqrt((against_base ? 1.0 : 2.0) / std::max(1, frames)),
                                    against_base ? 0.3 : 0.1);
    const Map map = median_map(reading, from, from + length, against_base, other, other + part);
    SurfaceFeatures f = features_of(map, reading.shape(), finger, noise);
    f.first_us = reading.window(from).first_us;
    f.last_us = reading.window(from + length - 1).last_us;
    const auto weight = [](const SurfaceFeatures& x) {
      return (x.raised_mean * std::sqrt(x.raised_nodes) +
              x.lowered_mean * std::sqrt(x.lowered_nodes)) /
             std::max(1e-9, x.noise);
    };
    if (f.raised_nodes + f.lowered_nodes > 0 && weight(f) > weight(best)) best = f;
    const bool raised = f.raised_nodes > 2 && f.raised > 0.5 * f.lowered;
    if (raised && weight(f) > weight(best_raised)) best_raised = f;
  };
  if (reading.has_reference()) {
    for (const std::size_t from : starts) consider(from, part, 0, true);
    consider(0, all, 0, true);  // what lies there throughout is seen best
  } else {
    for (const std::size_t from : starts)
      for (const std::size_t other : starts)
        if (from != other) consider(from, part, other, false);
  }
  // A hand that came later may outweigh what lay there before: the patch is what is asked for.
  return reading.has_reference() && best_raised.raised_nodes > 0 ? best_raised : best;
}

bool is_fading(const Reading& reading, const Account& account, const Box& box) {
  // What is raised within the box, window by window, against the last one if there is no reference.
  std::vector<double> course;
  const double finger = std::max<int>(16, account.settings.finger_counts);
  const std::size_t all = reading.windows();
  for (std::size_t k = 0; k < all; ++k) {
    const Map map = reading.has_reference() ? reading.departure(k) : reading.change(all - 1, k);
    double sum = 0;
    for (int r = box.row0; r <= box.row1; ++r)
      for (int c = box.col0; c <= box.col1; ++c)
        sum -= static_cast<double>(map[reading.node_at(r, c)]) / finger;
    course.push_back(sum);
  }
  if (course.empty()) return false;
  const double most = *std::max_element(course.begin(), course.end());
  if (most <= 0) return false;
  // Drying passes slowly through the middle of its range; what is peeled skips it.
  const auto middle = std::count_if(course.begin(), course.end(),
                                    [&](double v) { return v > 0.3 * most && v < 0.8 * most; });
  return middle >= 5 && course.back() < 0.5 * most;
}

bool is_moving_at_power_up(const Reading& reading, const Account& account) {
  if (account.kind != DumpKind::from_power_up) return false;
  const double finger = std::max<int>(16, account.settings.finger_counts);
  constexpr std::size_t kLookWindows = 3;  // 0.7 s: settling and the first look
  int moves = 0;
  for (std::size_t k = 0; k + 1 < std::min(kLookWindows, reading.windows()); ++k) {
    const Map map = reading.change(k, k + 1);
    const auto low = std::min_element(map.begin(), map.end()) - map.begin();
    const auto high = std::max_element(map.begin(), map.end()) - map.begin();
    const int cols = reading.shape().cols;
    const auto dr = std::abs(static_cast<int>(low) / cols - static_cast<int>(high) / cols);
    const auto dc = std::abs(static_cast<int>(low) % cols - static_cast<int>(high) % cols);
    const double limit = std::max(0.06 * finger, 2.5 * static_cast<double>(reading.noise()));
    const bool strong = static_cast<double>(map[static_cast<std::size_t>(high)]) > limit &&
                        static_cast<double>(-map[static_cast<std::size_t>(low)]) > limit;
    moves += strong && std::max(dr, dc) >= 2;
  }
  return moves >= 1;
}

}  // namespace bareglass::host
