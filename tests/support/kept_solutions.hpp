#pragma once
// Full field solutions that tests share. Those in fixtures/solutions.txt are taken from there as
// long as the solver's sources are the ones that solved them; all others are solved once and kept
// in the build folder for the other test processes and for later runs.
//
// What is kept can't hide a change: other sources, and every one is solved anew; one in sixteen is
// solved anew in any case and has to agree, which would show another compiler or library;
// BAREGLASS_SOLVE_ANEW=1 in the environment solves them all.

#include <map>
#include <string>
#include <vector>

#include "bareglass/field/solution_store.hpp"

namespace bareglass::support {

/// A text of kept solutions: comments, "sources HASH", "KEY NUMBER..." lines.
struct SolutionFile {
  std::string sources;
  std::map<std::string, std::vector<double>> solutions;
};
/// Throws std::runtime_error naming `file` and the line for a text that is none.
SolutionFile parse_solutions(const std::string& text, const std::string& file);

/// One line of such a text.
std::string solution_line(const std::string& key, const std::vector<double>& numbers);

class KeptSolutions : public field::SolutionStore {
 public:
  /// `approved`: what the repository keeps; `folder`: where others are kept, made if missing.
  /// `anew`: solve the approved ones too.
  KeptSolutions(SolutionFile approved, const std::string& sources, std::string folder, bool anew);

  /// An approved solution that is solved anew and comes out otherwise is a failure of the test.
  std::vector<double> result(const std::string& key, const field::SolveFunction& solve) override;

  /// Solved by this object so far.
  int solved() const { return solved_; }

 private:
  std::vector<double> from_folder(const std::string& key, const field::SolveFunction& solve);

  SolutionFile approved_;
  std::string folder_;
  bool anew_;
  int solved_ = 0;
};

/// fixtures/solutions.txt.
std::string solutions_path();

}  // namespace bareglass::support
