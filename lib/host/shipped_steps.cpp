#include "shipped_steps.hpp"

namespace bareglass::host {

const char* const kShippedSteps = R"steps(# What to do next. The format is described in NEXT_STEPS.md. Steps stand in the order in which they
# are printed: cheapest first, opening and replacing last.

[groups]
on_the_glass = ["touch_at_power_up", "touch_held", "isolated_film", "drying_film", "grounded_film",
                "wet_bezel", "isolated_streak", "moving_thing", "unknown_object", "drops", "residue"]
to_be_cleaned = ["isolated_film", "drying_film", "grounded_film", "wet_bezel", "isolated_streak",
                 "unknown_object", "drops", "residue"]
wet = ["isolated_film", "drying_film", "grounded_film", "wet_bezel", "isolated_streak", "drops"]
lines_gone = ["open_line", "crack", "raised_resistance", "worn_tail", "intermittent_line"]
lines = ["open_line", "crack", "bridged_lines", "raised_resistance", "worn_tail", "intermittent_line"]
tail = ["open_line", "raised_resistance", "worn_tail", "intermittent_line"]
electrical = ["interference", "common_mode", "floating_ground", "supply_sag"]

# --- Nothing found -------------------------------------------------------------------------------

[[step]]
name = "compare_settings"
causes = ["bare_glass"]
when = ["device_reported_off"]
text = "The device itself reported that it switched its input off, yet these frames show a bare glass: compare its settings with the ones used here (--settings), then capture once more from power-up."

[[step]]
name = "nothing_to_do"
causes = ["bare_glass"]
unless = ["device_reported_off"]
text = "Nothing on the glass needs attention. If touches still fail, capture while somebody touches the places that fail, and explain that dump."

[[step]]
name = "dry_film_harmless"
causes = ["dry_film"]
text = "Take the tape or note off all the same. Dry it does no harm, but it holds moisture and disinfectant, and those keep a panel from starting."

[[step]]
name = "capture_more"
causes = ["not_enough"]
text = "Capture again, beginning before the power-up and lasting at least five seconds, with nothing on the glass at first and then a finger on the places that fail."

# --- The panel helped itself ---------------------------------------------------------------------

[[step]]
name = "came_back"
causes = ["on_the_glass"]
when = ["input_on"]
only = true
text = "Input is on again: nothing has to be opened or replaced."

[[step]]
name = "keep_it_bare"
causes = ["on_the_glass"]
when = ["input_on"]
only = true
text = "See to it that the glass is bare and dry whenever the device is powered up: nothing taped to the screen, and a wipe-down dry before the restart."

# --- Remove, clean, dry --------------------------------------------------------------------------

[[step]]
name = "bare_the_glass"
causes = ["on_the_glass"]
unless = ["input_on"]
text = "Take everything off the glass: hands, notes, tape, covers, cables. Hold the device by its case."

[[step]]
name = "clean"
causes = ["to_be_cleaned"]
unless = ["input_on"]
tools = "A lint-free cloth and the cleaning agent that the device's maker names."
text = "Clean the glass with what the device's maker permits and nothing else, on a cloth that is wrung out."
caution = "Never spray on the glass and never soak it; keep fluid away from the bezel."

[[step]]
name = "dry_the_bezel"
causes = ["wet_bezel"]
unless = ["input_on"]
tools = "A lint-free cloth or the edge of absorbent paper."
text = "Dry the gap between glass and bezel from the corner outwards, then let the device stand with that edge down until it is dry."
stop = "If fluid comes out of the gap again, it is inside the case: leave the device switched off and pass it on for opening and drying."

[[step]]
name = "dry_fully"
causes = ["wet"]
unless = ["input_on"]
text = "Let glass and bezel dry fully before power is applied again."

[[step]]
name = "residue_again"
causes = ["residue"]
text = "Clean the marked place a second time and wipe it dry: what dries on the glass takes up moisture again and comes back."

# --- Power, charger, earth -----------------------------------------------------------------------

[[step]]
name = "charge_fully"
causes = ["supply_sag"]
text = "Charge the battery fully, then restart and capture again."
stop = "If the supply sags again with a full battery, the battery or its connection is due for replacement under the device's service instructions."

[[step]]
name = "other_outlet"
causes = ["interference", "common_mode", "moving_thing"]
unless = ["undocked"]
text = "Disconnect the charger or take the device out of its dock, move it away from other powered equipment, and capture again. If the disturbance is gone, try another charger and another outlet."

[[step]]
name = "away_from_equipment"
causes = ["interference", "common_mode", "moving_thing"]
when = ["undocked"]
text = "Move the device away from other powered equipment, touch nothing while it starts, and capture again."

[[step]]
name = "docked_and_undocked"
causes = ["floating_ground"]
text = "Capture once in the dock and once held in a hand. If touches are weak only in the dock or only on an insulating surface, the panel is whole and its ground is not connected."

[[step]]
name = "dock_contacts"
causes = ["floating_ground", "interference"]
tools = "A lamp and a magnifier; no metal tool on the contacts."
text = "Look at the spring contacts of the dock: a ground contact that is pushed in makes last instead of first, or not at all, and the device's ground floats."
stop = "If a contact is pushed in, bent or burnt, take the dock out of use and pass it on for repair."

# --- Restart and prove ---------------------------------------------------------------------------

[[step]]
name = "hands_off_restart"
causes = ["on_the_glass", "electrical"]
unless = ["input_on"]
text = "Restart the device with nothing on the glass and nobody touching it."

[[step]]
name = "prove_it"
causes = ["on_the_glass", "electrical"]
text = "To prove it, restart with nothing on the glass, capture from power-up and run \"bareglass explain\" on the new dump: input must come on and nothing may be found."

[[step]]
name = "not_on_the_glass"
causes = ["on_the_glass"]
unless = ["input_on"]
text = "Restart and capture a second time if the same place shows again."
stop = "Stop here and pass the device on for repair if the same place shows again on clean, dry, bare glass after two restarts: then the cause is not on the glass."

# --- Lines, tail, panel: these cost most ---------------------------------------------------------

[[step]]
name = "cleaning_is_useless"
causes = ["lone_node"]
only = true
text = "Cleaning will not help: a single node without its neighbours is not caused by the glass."

[[step]]
name = "same_node_again"
causes = ["lone_node"]
text = "Restart and capture again. If the same node stands out once more, pass the device on for repair (tail, panel or controller); if other nodes do, look for a loose connection of the capture itself."

[[step]]
name = "out_of_use"
causes = ["lines"]
text = "Take the device out of use and mark it: a panel with a damaged line misses touches or reports them in the wrong place, and cleaning won't mend it."

[[step]]
name = "capture_cold"
causes = ["lines_gone"]
unless = ["from_power_up"]
text = "Capture once from power-up on bare glass, so that the lines can be judged against a clean start."

[[step]]
name = "fluid_in_tail"
causes = ["bridged_lines"]
tools = "Tools for opening that the service instructions name."
text = "Open the device only under its service instructions, look for fluid or residue where the tail is plugged in, dry and clean it, and plug it in again."
caution = "An electrical safety test must be passed after the case has been opened."
stop = "If the lines are still joined when the plug is dry and clean, the tail or the panel is damaged: replace it."

[[step]]
name = "reseat_the_tail"
causes = ["tail"]
tools = "Tools for opening that the service instructions name; a magnifier."
text = "Open the device only under its service instructions, unplug the tail, look for worn, corroded or cracked traces, clean the contacts as the maker permits, and plug it in again until it locks."
caution = "An electrical safety test must be passed after the case has been opened."

[[step]]
name = "tail_then_panel"
causes = ["tail"]
text = "Capture again. If the same lines show, replace the tail where it can be replaced by itself, else the panel."
stop = "Stop after one reseating: a tail that worked once and failed again is replaced, not reseated a second time."

[[step]]
name = "look_for_the_crack"
causes = ["crack"]
tools = "A lamp held low across the glass."
text = "Look along the line of breaks in grazing light: a sensor can be cracked under glass that looks whole. Feel for nothing; splinters cut."

[[step]]
name = "replace_the_panel"
causes = ["crack"]
text = "Replace the panel. A cracked sensor can't be repaired and grows worse as the device is handled."
caution = "An electrical safety test must be passed after the case has been opened."

[[step]]
name = "prove_the_repair"
causes = ["lines", "lone_node"]
text = "To prove the repair, capture from power-up on bare glass, then run \"bareglass compare\" with the dump from before and \"bareglass touchtest\" over the whole glass."

# --- Printed with every explanation --------------------------------------------------------------

[[caution]]
text = "Make sure that the device is not connected to a patient and is marked as out of use before you work on it."

[[caution]]
text = "Use only the cleaning agents and methods that the device's maker permits."

[[caution]]
text = "If the case has been opened, an electrical safety test must be passed before the device goes back into use."

[[caution]]
text = "Local rules and the judgement of licensed staff come before anything printed here."
)steps";

}  // namespace bareglass::host
