#pragma once
// The product's field solution beside an independent one: every number of the reference panel that
// is known from elsewhere, with the full solution and the fast model.

#include <cmath>
#include <functional>
#include <string>
#include <vector>

namespace bareglass::panel {

/// One quantity. Where the reference is one number, `low` and `high` are equal.
struct ReferenceRow {
  enum class Unit { ff, pf, percent, part, points };

  std::string key;
  double low = 0.0;
  double high = 0.0;
  Unit unit = Unit::ff;
  double limit = 0.0;          ///< own bound; 0: the usual one
  std::string note;            ///< how something that the reference leaves open is read
  std::string outside;         ///< why the full solution is known to lie outside the bound
  double full = std::nan("");  ///< full solution; NaN: the quantity has none
  double fast = std::nan("");  ///< fast model or simulated panel; NaN: the quantity has none

  /// What is judged: the full solution, or the fast model if there is no other.
  double judged() const { return std::isnan(full) ? fast : full; }
  /// How far from the reference it may lie: 3 % above 10 fF and 1 fF below; 3 % of quantities in pF
  /// and of percentages of a node, the latter at least 0.1; 0.03 of a part; 0.3 points.
  double bound() const;
  /// judged() less the nearer end of the reference.
  double error() const;
  bool within() const { return std::abs(error()) <= bound(); }
};

/// Quantities that are solved together.
struct ReferenceGroup {
  std::string name;
  std::vector<ReferenceRow> rows;
};

struct ReferenceTable {
  std::string origin;
  std::vector<ReferenceGroup> groups;
};

/// Reads a reference file (TOML, described in sim/panel/data/field_reference.toml). Throws
/// host::CaptureError naming the file, the line and what was expected.
ReferenceTable parse_reference(const std::string& text, const std::string& file);
ReferenceTable load_reference(const std::string& path);
/// The one that is built in.
ReferenceTable built_in_reference();

/// Names of all groups that can be solved.
std::vector<std::string> solvable_groups();
/// Solves a group: a second to half a minute. Throws std::invalid_argument for a group or a key
/// that is not known, naming it.
void solve(ReferenceGroup& group);

/// A solved group as text, one line a row.
std::string group_text(const ReferenceGroup& group);
/// What the columns of group_text are.
std::string table_heading(const ReferenceTable& table);

}  // namespace bareglass::panel
