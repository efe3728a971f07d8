#pragma once
// The survey made readable: every window against what the bare panel should read.

#include <vector>

#include "bareglass/replay/account.hpp"

namespace bareglass::host {

/// The time in which nearly all nodes stood at an end of the converter's range: nothing is read.
struct Blind {
  std::size_t windows = 0;
  bool high = false;  ///< at the upper end
  std::uint64_t first_us = 0, last_us = 0;
  bool ended = false;  ///< something was read afterwards
};

/// Maps of one dump. Node order is row-major everywhere. Windows in which the panel was blind, and
/// those in which it became so or ceased to be, are left out.
class Reading {
 public:
  explicit Reading(const Account& account);

  bool empty() const { return survey_.windows.empty(); }
  Shape shape() const { return survey_.shape; }
  const Blind& blind() const { return blind_; }
  std::size_t windows() const { return survey_.windows.size(); }
  const SurveyWindow& window(std::size_t k) const { return survey_.windows[k]; }
  bool has_reference() const { return has_reference_; }

  /// What the bare panel should read, counts of charge: the factory reference, or without one a
  /// smooth panel whose lines read what most of their neighbours read in the first window.
  const std::vector<float>& base() const { return base_; }
  /// Reading over base() of the typical node in window k: 1 on a healthy panel with a reference.
  float gain(std::size_t k) const { return gain_[k]; }
  /// Reading over base() and gain, per node.
  float ratio(std::size_t k, std::size_t node) const {
    return base_[node] < 1.f ? 1.f : window(k).mean[node] / (base_[node] * gain_[k]);
  }
  /// Departure of window k, counts at full drive, positive as a finger; masked nodes are 0.
  std::vector<float> departure(std::size_t k) const;
  /// 1 if a finger lowers the counts, else -1: difference = sign * (bare - reading).
  float change_sign() const { return rises_ ? -1.f : 1.f; }
  /// The same against another window instead of base().
  std::vector<float> change(std::size_t from, std::size_t to) const;
  /// Typical noise of a node, counts, in one frame.
  float noise() const { return noise_; }

  /// Node-to-node spread of the first window against base(), counts (1.48 times the median absolute
  /// departure): of manufacture, if there is no reference.
  float spread() const { return spread_; }

  /// Takes a node out of departure() and change(): a broken line says nothing of the glass.
  void mask(std::size_t node) { masked_[node] = 1; }
  bool masked(std::size_t node) const { return masked_[node] != 0; }
  /// Takes the share of its reading that a fault leaves a node in window k out of the reading.
  void mend(std::size_t k, std::size_t node, float share) {
    survey_.windows[k].mean[node] /= share;
    mended_[node] = 1;
  }
  /// Masked or mended: what the core took for a thing there may be the fault.
  bool spoiled(std::size_t node) const { return masked_[node] != 0 || mended_[node] != 0; }

  std::size_t node_at(int row, int col) const {
    return static_cast<std::size_t>(row * survey_.shape.cols + col);
  }

 private:
  void leave_out_blind(const Settings& settings);
  /// Turns readings into charge; `empty`: counts of a node without any, `rises`: whether counts do
  /// as charge is lost.
  void count_charge(float empty, bool rises);
  void make_base();

  Survey survey_;  ///< a copy: faults of lines are taken out of it
  Blind blind_;
  bool rises_ = false;  ///< of differences alone
  bool has_reference_;
  float noise_ = 1.f;
  float spread_ = 0.f;
  std::vector<float> base_;
  std::vector<float> gain_;
  std::vector<char> masked_, mended_;
};

/// The value that `share` (0..1) of `values` do not exceed; 0 of none.
float quantile(std::vector<float> values, double share);

}  // namespace bareglass::host
