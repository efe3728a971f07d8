#pragma once
// A place where the results of full solutions are kept, so that none has to be solved twice.

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "bareglass/field/axis.hpp"

namespace bareglass::field {

/// Names one problem by everything that its result depends on, but the solver's own sources. Real
/// numbers count to about ten digits, so that another machine's last bits ask for the same one.
class SolutionKey {
 public:
  /// `kind`: what is solved for.
  explicit SolutionKey(std::string_view kind);

  SolutionKey& add(std::int64_t value);
  SolutionKey& add(int value) { return add(static_cast<std::int64_t>(value)); }
  SolutionKey& add(bool value) { return add(static_cast<std::int64_t>(value)); }
  SolutionKey& add(double value);
  SolutionKey& add(const Axis& axis);
  SolutionKey& add(std::string_view text);

  /// 32 hexadecimal digits.
  std::string text() const;

 private:
  void take(std::uint64_t word);
  std::uint64_t first_;
  std::uint64_t second_;
};

/// Solves a problem; the numbers it is after.
using SolveFunction = std::function<std::vector<double>()>;

class SolutionStore {
 public:
  virtual ~SolutionStore() = default;
  /// What is kept under `key` (SolutionKey::text()); else what `solve` gives, to be kept.
  virtual std::vector<double> result(const std::string& key, const SolveFunction& solve) = 0;
};

/// From now on every full solution of this process is asked from `store`, which must live on; null,
/// as at the start: each is solved. Call it before any thread solves.
void keep_solutions_in(SolutionStore* store);

/// From the store if there is one.
std::vector<double> kept_or_solved(const SolutionKey& key, const SolveFunction& solve);

}  // namespace bareglass::field
