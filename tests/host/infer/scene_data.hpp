#pragma once
// Accounts whose survey is written by hand: a panel, what lies on it, when, and noise.

#include <cmath>
#include <cstdint>
#include <functional>

#include "bareglass/replay/account.hpp"

namespace bareglass::host {

struct ScenePlan {
  Shape shape{16, 20};
  int windows = 20;
  double level = 20000;  ///< counts of a bare node
  double finger = 3000;  ///< counts
  double spread = 60;    ///< of manufacture, counts
  double noise = 25;     ///< of a node in one frame, counts
  bool reference = true;
  unsigned seed = 1;
  /// Share of its counts that a node reads: signal is lost along the lines of large panels.
  std::function<double(int, int)> settled = [](int, int) { return 1.0; };
  /// Counts that the node (row, column) has lost in window k.
  std::function<double(int, int, int)> lost = [](int, int, int) { return 0.0; };
};

/// Normal numbers from a linear congruential generator and the sum of twelve uniform ones.
class PlainNoise {
 public:
  explicit PlainNoise(unsigned seed) : state_(seed * 2654435761u + 12345u) {}
  double operator()() {
    double sum = -6.0;
    for (int k = 0; k < 12; ++k) {
      state_ = state_ * 6364136223846793005ull + 1442695040888963407ull;
      sum += static_cast<double>(state_ >> 40) / static_cast<double>(1u << 24);
    }
    return sum;
  }

 private:
  std::uint64_t state_;
};

inline Account account_of(const ScenePlan& plan) {
  constexpr int kFrames = 30;
  constexpr std::uint64_t kWindow_us = 240000;
  Account a;
  a.kind = DumpKind::from_power_up;
  a.panel.power_up_us = 0;
  a.settings.shape = plan.shape;
  a.settings.finger_counts = static_cast<std::uint16_t>(plan.finger);
  a.has_reference = plan.reference;
  a.frames = static_cast<std::uint64_t>(kFrames * plan.windows);
  a.final_state = InputState::running;
  a.decisive.limit = 240;
  PlainNoise noise(plan.seed);
  std::vector<double> bare;
  for (int r = 0; r < plan.shape.rows; ++r)
    for (int c = 0; c < plan.shape.cols; ++c)
      bare.push_back((plan.level + plan.spread * noise()) * plan.settled(r, c));
  if (plan.reference)
    for (const double v : bare)
      a.survey.reference.push_back(static_cast<std::uint16_t>(std::lround(v)));
  a.survey.shape = plan.shape;
  a.survey.rows.resize(static_cast<std::size_t>(plan.shape.rows));
  a.survey.columns.resize(static_cast<std::size_t>(plan.shape.cols));
  for (int k = 0; k < plan.windows; ++k) {
    SurveyWindow w;
    w.first_us = static_cast<std::uint64_t>(k) * kWindow_us;
    w.last_us = w.first_us + kWindow_us - 8000;
    w.frames = kFrames;
    for (int r = 0; r < plan.shape.rows; ++r)
      for (int c = 0; c < plan.shape.cols; ++c) {
        const auto i = static_cast<std::size_t>(r * plan.shape.cols + c);
        w.mean.push_back(static_cast<float>(bare[i] - plan.lost(k, r, c) +
                                            plan.noise / std::sqrt(kFrames) * noise()));
        w.noise.push_back(static_cast<float>(plan.noise * (1.0 + 0.1 * noise())));
      }
    a.survey.windows.push_back(std::move(w));
  }
  a.last_us = a.survey.windows.back().last_us;
  return a;
}

/// An isolated body of conductor over the nodes for which `covers` holds: they lose `loss` and
/// every crossing of its rows and columns gains 1.13 loss times rows' area times columns' area over
/// all of it (the law of one conductor on the glass; ratio for 1.1 mm of glass).
inline std::function<double(int, int)> isolated(Shape shape, double loss,
                                                const std::function<bool(int, int)>& covers) {
  std::vector<double> rows(static_cast<std::size_t>(shape.rows), 0.0);
  std::vector<double> columns(static_cast<std::size_t>(shape.cols), 0.0);
  double all = 0;
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      if (!covers(r, c)) continue;
      ++rows[static_cast<std::size_t>(r)];
      ++columns[static_cast<std::size_t>(c)];
      ++all;
    }
  return [=](int r, int c) {
    return (covers(r, c) ? loss : 0.0) - 1.13 * loss * rows[static_cast<std::size_t>(r)] *
                                             columns[static_cast<std::size_t>(c)] / all;
  };
}

}  // namespace bareglass::host
