#include "bareglass/view/node_history.hpp"

#include <algorithm>

namespace bareglass::view {

NodeHistory::NodeHistory(std::size_t nodes, std::size_t budget_bytes)
    : nodes_(nodes), most_(std::max<std::size_t>(2, budget_bytes / (nodes * 4 + 9))) {}

void NodeHistory::add(std::uint64_t at_us, View<const std::uint16_t> raw, const Engine& engine) {
  if (frames_++ % stride_ != 0) return;
  if (at_.size() == most_) {
    thin();
    if ((frames_ - 1) % stride_ != 0) return;
  }
  at_.push_back(at_us);
  raw_.insert(raw_.end(), raw.begin(), raw.end());
  const bool has = has_baseline(engine);
  has_baseline_.push_back(has ? 1 : 0);
  if (has)
    for (const BaselineQ8 b : engine.baseline_q8())
      baseline_.push_back(static_cast<std::uint16_t>(b >> 8));
  else
    baseline_.resize(baseline_.size() + nodes_);
}

void NodeHistory::thin() {
  std::size_t kept = 0;
  const auto at = [&](std::vector<std::uint16_t>& of, std::size_t moment) {
    return of.begin() + static_cast<std::ptrdiff_t>(moment * nodes_);
  };
  for (std::size_t n = 0; n < at_.size(); n += 2, ++kept) {
    if (n == kept) continue;
    at_[kept] = at_[n];
    has_baseline_[kept] = has_baseline_[n];
    std::copy(at(raw_, n), at(raw_, n + 1), at(raw_, kept));
    std::copy(at(baseline_, n), at(baseline_, n + 1), at(baseline_, kept));
  }
  at_.resize(kept);
  has_baseline_.resize(kept);
  raw_.resize(kept * nodes_);
  baseline_.resize(kept * nodes_);
  stride_ *= 2;
}

NodeHistory::Point NodeHistory::point(std::size_t moment, std::size_t node) const {
  const std::size_t k = moment * nodes_ + node;
  return {at_[moment], raw_[k], baseline_[k], has_baseline_[moment] != 0};
}

}  // namespace bareglass::view
