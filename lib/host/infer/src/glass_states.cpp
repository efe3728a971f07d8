#include "glass_states.hpp"

#include <algorithm>
#include <cmath>

#include "bareglass/infer/search.hpp"

namespace bareglass::host {

namespace {

// Noise alone ends a state as often as this; the second most of the nodes has to move, so that one
// bad node does not.
constexpr double kOddsOfEnding = 1e-3;
constexpr float kLeastChange = 0.006f;  ///< of a finger: what is smaller changes no answer
constexpr std::size_t kLeastWindows = 2;

/// Noise of a node in one frame.
float frame_noise(const Reading& reading, std::size_t window, std::size_t node) {
  return std::max(reading.window(window).noise[node], 0.5f * reading.noise());
}

/// The same from one window to the next. A column that is disturbed is so in both; what begins to
/// move in one of them is restless there, and no reason to call it still. Of some frames a node's
/// own noise is known to a fifth, so the panel's typical one bounds it from below.
float noise_between(const Reading& reading, std::size_t window, std::size_t node) {
  const float lesser =
      std::min(reading.window(window - 1).noise[node], reading.window(window).noise[node]);
  return std::max(lesser, reading.noise());
}

struct Growing {
  std::size_t from = 0, until = 0;
  double frames = 0;
  std::vector<double> sum;

  void start(std::size_t k, std::size_t nodes) {
    from = until = k;
    frames = 0;
    sum.assign(nodes, 0.0);
  }
  void add(const Reading& reading, std::size_t k) {
    const SurveyWindow& w = reading.window(k);
    const double n = std::max(1, w.frames);
    for (std::size_t i = 0; i < sum.size(); ++i)
      sum[i] += n * static_cast<double>(w.mean[i] / reading.gain(k));
    frames += n;
    until = k + 1;
  }
};

bool is_still(const Growing& state, const Reading& reading, std::size_t k, float least) {
  const SurveyWindow& w = reading.window(k);
  const double n = std::max(1, w.frames);
  float most = 0.f;
  float second = 0.f;
  for (std::size_t i = 0; i < state.sum.size(); ++i) {
    if (reading.masked(i)) continue;
    const auto change = static_cast<float>(
        std::abs(static_cast<double>(w.mean[i] / reading.gain(k)) - state.sum[i] / state.frames));
    if (change < least) continue;
    const auto doubt =
        static_cast<float>(std::sqrt(1.0 / n + 1.0 / state.frames)) * noise_between(reading, k, i);
    const float z = change / doubt;
    if (z > most) {
      second = most;
      most = z;
    } else {
      second = std::max(second, z);
    }
  }
  return second < infer::noise_limit(static_cast<double>(state.sum.size()), kOddsOfEnding);
}

GlassState finish(const Growing& g, const Reading& reading, std::size_t run) {
  GlassState s;
  s.from = g.from;
  s.until = g.until;
  s.run = run;
  s.frames = g.frames;
  s.mean.resize(g.sum.size());
  s.noise.resize(g.sum.size());
  for (std::size_t i = 0; i < g.sum.size(); ++i) {
    s.mean[i] = static_cast<float>(g.sum[i] / g.frames);
    double square = 0;
    for (std::size_t k = g.from; k < g.until; ++k)
      square += std::pow(static_cast<double>(frame_noise(reading, k, i)), 2);
    s.noise[i] = static_cast<float>(
        std::sqrt(square / static_cast<double>(g.until - g.from) / std::max(1.0, g.frames)));
  }
  double swing = 0;
  for (std::size_t k = g.from; k < g.until; ++k)
    swing += std::max(1, reading.window(k).frames) *
             std::pow(static_cast<double>(reading.window(k).row_swing), 2);
  s.swing = std::sqrt(swing) / std::max(1.0, g.frames);
  double gain = 0;
  for (std::size_t k = g.from; k < g.until; ++k)
    gain += static_cast<double>(reading.gain(k)) / static_cast<double>(g.until - g.from);
  s.gain_shift = gain - 1.0;
  return s;
}

}  // namespace

std::vector<GlassState> glass_states(const Reading& reading, const Account& account) {
  std::vector<GlassState> out;
  const auto nodes = static_cast<std::size_t>(reading.shape().nodes());
  const float least = kLeastChange * static_cast<float>(account.settings.finger_counts);
  Growing growing;
  bool open = false;
  bool first_of_run = true;
  std::size_t run = 0;
  const auto close = [&] {
    if (!open) return;
    if (growing.until - growing.from >= kLeastWindows || first_of_run)
      out.push_back(finish(growing, reading, run));
    first_of_run = false;
    open = false;
  };
  for (std::size_t k = 0; k < reading.windows(); ++k) {
    const std::size_t of = run_of(account, reading.window(k).first_us);
    if (of != run) {
      close();
      run = of;
      first_of_run = true;
    }
    if (open && !is_still(growing, reading, k, least)) close();
    if (!open) {
      growing.start(k, nodes);
      open = true;
    }
    growing.add(reading, k);
  }
  close();
  return out;
}

}  // namespace bareglass::host
