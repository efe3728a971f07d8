#pragma once
// What a trainer takes from the shelf and puts on the glass. Sizes and materials are those of the
// things; what they do to a panel comes from the field solution.

#include <string>
#include <vector>

#include "bareglass/panel/scenario.hpp"

namespace bareglass::view {

enum class ShelfItem {
  finger,
  three_fingers,
  hand,
  tape,
  dry_note,
  damp_note,
  drops,
  wet_wipe,
  streak,
  residue,
  metal_label,
  bezel_fluid,
};
constexpr int kShelfItems = 12;

struct ShelfEntry {
  ShelfItem item;
  const char* name;  ///< "damp note", also the name of the thing
  const char* hint;  ///< one line: what it is made of
};
/// All of them, in the order of the shelf.
const std::vector<ShelfEntry>& shelf();

/// Size of a panel's lines, mm: where things can lie.
struct GlassSize {
  double width_mm = 50.0;   ///< columns times their pitch
  double height_mm = 80.0;  ///< rows times their pitch
};
GlassSize glass_size(const panel::Scenario& scenario);

/// The things of one shelf item with their middle at `at`; fluid at the bezel keeps to the upper
/// border whatever `at` says. Large things are made smaller on a glass they would not fit.
std::vector<panel::ThingSpec> from_shelf(ShelfItem item, field::Point at, GlassSize glass);
/// How long it takes to dry by itself, s; 0: it does not.
double drying_time_s(ShelfItem item);

/// What a thing is to be drawn as: what the scenario says, else a guess from what it is made of.
panel::Look look_of(const panel::ThingSpec& thing);

}  // namespace bareglass::view
