#pragma once
// Holds the diagnosis of a case against what was put there.

#include <optional>
#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/capture/records.hpp"
#include "world_case.hpp"

namespace bareglass::world {

struct Verdict {
  std::uint64_t seed = 0;
  bool healthy = false;  ///< drawn so: no item at all
  bool right_first = false;
  bool right_alone = false;  ///< by the first name of the first answer alone
  int names = 1;             ///< that the first answer carries
  bool alarmed = false;      ///< healthy, and told something that such a unit does not have
  std::string kind;          ///< what the case is filed under: the first present item, "healthy",
                             ///< or "earlier life" if all items are gone by the last start-up
  std::string label;         ///< the name its item goes by
  int present = 0;           ///< items that are there in the last life and visible
  int named = 0;             ///< of which an answer names

  struct Named {
    std::string kind;
    std::string label;
    bool named = false;
  };
  std::vector<Named> items;  ///< the present ones

  struct Told {
    std::string cause;
    double confidence = 0.0;
    bool sure = false;
    bool right = false;
  };
  std::vector<Told> told;           ///< every cause, the first one first
  std::vector<std::string> groups;  ///< what the case is like: start-ups, reference, noise
  double centre_mm = -1.0;          ///< of a body of 15 mm or more told rightly; -1: none
  /// The reconstruction of that body, of those on one side of its interval also whether it holds.
  struct Rebuilt {
    double centre_mm = 0.0;   ///< of area, on the glass, from the true one
    double area_ratio = 0.0;  ///< over the true one
    double area_mm2 = 0.0;    ///< true
    bool x_held = false, y_held = false, area_held = false;  ///< true values within the intervals
    std::optional<bool> earth_held;  ///< none: a person, or a spacer under it
    double area_width = 0.0;         ///< of the interval, over the true area
  };
  std::optional<Rebuilt> rebuilt;
  double took_s = 0.0;  ///< replay and diagnosis
  std::string said;     ///< for people
  std::string wanted;
};

Verdict judge_case(const WorldCase& c);
/// The same of an answer that was got elsewhere.
Verdict judge_answer(const WorldCase& c, const host::Diagnosis& answer);

}  // namespace bareglass::world
