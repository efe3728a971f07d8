#pragma once
// What every node read over a whole dump, in bounded memory: when it is full, every other moment is
// dropped and from then on half as many are taken.

#include <cstdint>
#include <vector>

#include "bareglass/core/engine.hpp"

namespace bareglass::view {

class NodeHistory {
 public:
  static constexpr std::size_t kBudgetBytes = std::size_t{24} << 20;

  /// nodes: 1 or more; `budget_bytes` has room for at least two moments.
  explicit NodeHistory(std::size_t nodes, std::size_t budget_bytes = kBudgetBytes);

  /// One frame. `at_us` does not go back. `raw`: counts, one per node.
  void add(std::uint64_t at_us, View<const std::uint16_t> raw, const Engine& engine);

  struct Point {
    std::uint64_t at_us = 0;
    std::uint16_t raw = 0;       ///< counts
    std::uint16_t baseline = 0;  ///< counts; only if has_baseline
    bool has_baseline = false;
  };
  std::size_t size() const { return at_.size(); }
  /// Precondition: moment < size(), node < nodes.
  Point point(std::size_t moment, std::size_t node) const;
  /// Moments kept are this many frames apart.
  std::uint64_t stride() const { return stride_; }

 private:
  void thin();

  std::size_t nodes_;
  std::size_t most_;
  std::uint64_t stride_ = 1;
  std::uint64_t frames_ = 0;
  std::vector<std::uint64_t> at_;
  std::vector<std::uint8_t> has_baseline_;
  std::vector<std::uint16_t> raw_, baseline_;
};

/// True if Engine::baseline_q8() holds a baseline that readings are compared with.
inline bool has_baseline(const Engine& engine) {
  return engine.state() == InputState::running || engine.state() == InputState::paused;
}

}  // namespace bareglass::view
