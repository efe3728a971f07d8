#pragma once
// Sentences that speak for or against a cause, each whole, so that a translation can order its
// words.

#include <string>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"
#include "glass_things.hpp"

namespace bareglass::host::text {

/// What is broken, with the lines named: "Row 5 reads nothing: ...".
std::string line_headline(Cause cause, const LinesFound& lines);

std::string blind_headline();
std::string blind_low();
std::string blind_high();
std::string blind_or_badly_captured();
std::string line_reads_nothing();
std::string line_lost(double share);
std::string line_even();
std::string line_neighbours_sound();
std::string cut_keeps_near_part();
std::string crack_runs(const LinesFound& lines);
std::string line_was_held_back(bool input_stayed_on);
std::string bridge_same(double left_share);
std::string bridge_doubled();
std::string line_steps(int steps);
std::string no_object_does_that();
std::string no_reference_for_lines();

std::string sag_lost(double share);
std::string sag_millivolts(int lowest);
std::string sag_only_millivolts();
/// All nodes together, share of the reference; limit as well.
std::string level_off(double share, double limit);
std::string level_either();
std::string swing(double counts, double limit);
std::string swing_share();
std::string column_noise(double times);
std::string column_noise_only();
std::string column_was_held_back();
std::string weak_contact(double share);
std::string weak_contact_wide();
std::string weak_contact_other();

/// How far a picture departs, and what would be too much; counts.
std::string largest_departure(DecisiveMoment::Against against, std::int32_t counts,
                              std::int32_t limit, const Settings& settings);
/// Beyond the limit, and yet no more than touches and the panel itself make over the whole dump.
std::string departure_of_touches(DecisiveMoment::Against against, std::int32_t counts,
                                 std::int32_t limit, const Settings& settings);
std::string moved_during_look();
std::string map_shows(std::int32_t counts, const Settings& settings, BareBy bare);
std::string area_is(const std::string& size);
std::string thin_layer_headline();
/// Something too weak to be told as a thing.
std::string may_be_faint(const Box& box, std::int32_t counts, const Settings& settings);
/// Of what all makes the same signals, `found.cause` first.
std::string headline_of_all(const CauseFound& found);
std::string falls_as_touch();
std::string fingertip_sized();
std::string ended_at_once_as_finger();
std::string ended_at_once_as_peeled();
std::string touch_never_ended();
std::string stayed_to_the_end();
std::string falls_over_more();
std::string band_at_border(const Box& box, const Settings& settings);
std::string fluid_lowers();
/// `lowered`, `raised`: shares of a finger.
std::string both_signs(double lowered, double raised);
std::string streak_makes_touches();
std::string rises_against_touch();
std::string has_rim(double share);
std::string dry_tape_cannot();
std::string only_smoothness();
std::string put_down_or_lifted();
/// `by`: share of the reading by which all nodes changed at once.
std::string all_nodes_stepped(double by, std::int32_t counts, const Settings& settings);
std::string no_temperature_steps();
/// `lost`: share of the reading; `share`: of what an earthed cover takes.
std::string all_nodes_lower(double lost, std::int32_t counts, const Settings& settings);
std::string as_much_as_a_cover(double share);
std::string gain_or_cover();
std::string separate_places(int places);
std::string no_rim();
std::string dry_or_damp();
std::string faded();
std::string lone_node();
std::string lone_node_where();

}  // namespace bareglass::host::text
