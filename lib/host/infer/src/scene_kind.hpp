#pragma once
// What an episode's map looks like, and which kind of thing makes such a map.

#include <optional>

#include "bareglass/answer/diagnosis.hpp"
#include "scene.hpp"

namespace bareglass::host {

/// Sizes in shares of the panel's nominal finger; places in nodes.
struct SceneLook {
  double limit = 0;             ///< beyond which a node is no accident of noise
  double least_plateau = 0;     ///< a wide rise below this is the panel's own unevenness
  double conductor = 0;         ///< what a large closed patch of conductor without ground raises
  double drops_rise = 0;        ///< least share of drops' signals, squared, that is in their rise
  double clear_drops_rise = 0;  ///< the same where nothing but that tells them from a patch
  double lowered = 0;           ///< greatest fall of the counts
  double raised = 0;            ///< greatest rise
  double lowered_pair = 0, raised_pair = 0;  ///< of two nodes side by side, sum over root of two
  double area = 0;                           ///< lowered: sum over the map over its greatest, nodes
  double raised_area = 0;                    ///< the same for what is raised
  double depth = 0;      ///< lowered: sum across its border over the border line's; 0: no border
  double length_mm = 0;  ///< lowered: sum along that border line over its greatest
  double plateau = 0;    ///< raised: middle of the stronger half of the raised nodes
  double rim = 0;        ///< greatest fall beside what is raised
  double filled = 0;     ///< raised nodes over the area of their box
  double lowered_filled = 0;  ///< the same for lowered nodes
  int raised_nodes = 0;       ///< of the map summed over 3 x 3
  int lowered_nodes = 0;      ///< beyond a third of the greatest
  int spots = 0;              ///< small raised places apart from each other
  int wide_spots = 0;         ///< of them, wider than a drop
  int separate_pairs = 0;     ///< of spots, whose crossings show nothing
  int joined_pairs = 0;       ///< of spots, whose crossings show something
  double beside_spots = 0;    ///< share of the map's energy that is not within two nodes of a spot
  double spots_rise = 0;      ///< share of the energy within two nodes of a spot that is rise
  Box raised_box, lowered_box;
  Box spots_box;  ///< of the spots' strongest nodes
};
SceneLook look_at(const Episode& episode, const Reading& reading, const Settings& settings);

/// The kind of thing, nothing if the map shows none. Time is not judged here: a compact grounded
/// thing is touch_at_power_up whenever it lies there.
std::optional<Cause> kind_of(const SceneLook& look);

/// Of a thin layer that does not conduct: what else it can be, if its amount leaves the choice.
/// `cause` becomes the more likely one.
std::optional<Cause> other_layer(Cause& cause, const SceneLook& look);

/// How a thing goes; `unclear` where noise leaves both open.
enum class Going { at_once, unclear, slowly };
/// Whether the thing fades slowly, as one that dries does, or goes at once. `film`: it is a film
/// that conducts. Tells nothing of a thing that stays.
Going going_of(const Episode& episode, bool film);
/// Standard deviation of the square of Episode::presence while nothing lies there.
double presence_scatter(const Episode& episode);

}  // namespace bareglass::host
