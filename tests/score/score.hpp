#pragma once
// Plays cases, diagnoses them, and counts how often the answer was right.

#include <array>
#include <string>
#include <vector>

#include "case.hpp"

namespace bareglass::score {

struct Judged {
  std::uint64_t seed = 0;
  host::Cause drawn = host::Cause::bare_glass;
  bool is_double = false;
  bool visible = true;
  host::Cause said = host::Cause::bare_glass;
  double confidence = 0;
  bool right = false;
  /// The cause was named second, as what makes the same signals: dry film or residue.
  bool as_second_name = false;
  int truths = 0;
  int truths_named = 0;  ///< of the causes that hold, how many the diagnosis names
  struct Told {
    host::Cause cause = host::Cause::bare_glass;
    double confidence = 0;
    bool right = false;
  };
  std::vector<Told> findings;  ///< everything the diagnosis names
  double place_error_mm = -1;  ///< middle of the place said to middle of the truth; -1: none
  int line_error = -1;         ///< lines by which first, last or the crossing are off; -1: none
  std::string told;            ///< the causes said, for people
};

/// Plays the case into memory, replays and diagnoses it.
Judged judge(const Case& c, std::uint64_t seed);
/// Holds an answer that was got elsewhere against the case.
Judged judge(const Case& c, std::uint64_t seed, const host::Diagnosis& d);

/// What the simulated unit would have sent, diagnosed.
host::Diagnosis diagnose_scenario(const panel::Scenario& scenario);

struct Summary {
  std::vector<Judged> cases;

  double right_share() const;
  /// Of the cases of which there is anything to see.
  double right_share_of_visible() const;
  /// Cases drawn as bare_glass whose top cause is neither bare_glass nor not_enough.
  int wrong_alarms() const;
  std::string confusion() const;
  std::string per_cause() const;
  /// All findings, then those of the glass, of lines, of electrics.
  std::string calibration() const;
  std::string several() const;
};

/// `cases` of each cause (and, with `doubles`, as many double cases), seeds from `seed` on, on
/// `threads` threads. The order of the result does not depend on the threads.
Summary run(const std::vector<host::Cause>& causes, bool doubles, std::uint64_t seed, int cases,
            int threads, const std::string& panel_folder);

}  // namespace bareglass::score
