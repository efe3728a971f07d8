#pragma once
// What became of input over a dump: answers and pages say only what the account shows of it.

#include "bareglass/replay/account.hpp"

namespace bareglass::host {

struct InputCourse {
  bool known = false;      ///< the dump begins at the power-up; all others are false without it
  bool refused = false;    ///< input was switched off or not given, somewhere in the dump
  bool on = false;         ///< at the end
  bool restarted = false;  ///< powered up again after the last refusal
  bool waited = false;     ///< the panel looked again by itself until it gave input
  bool adopted = false;    ///< an object was taken into the baseline (policy adopt)
  /// The last baseline holds an object: no later look found the glass bare.
  bool object_in_baseline = false;

  bool came_back() const { return refused && on; }
  /// Input is on, and nothing that the panel knows of is in its baseline.
  bool on_bare() const { return on && !object_in_baseline; }
};

InputCourse input_course(const Account& account);

}  // namespace bareglass::host
