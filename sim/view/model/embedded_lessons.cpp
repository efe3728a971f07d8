#include "embedded_texts.hpp"

namespace bareglass::view {

const std::vector<EmbeddedText>& embedded_lessons() {
  static const std::vector<EmbeddedText> kTexts = {
      {"bare-glass-start.toml", R"text(# What a good start looks like: the yardstick for all the other lessons.
title = "A start on bare glass"
about = "What the panel does between power-up and the first touch."
order = 10

[scene]
seed = 11
policy = "lock"

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10

[[scene.thing]]
name = "finger"
look = "finger"
kind = "conductor"
shape = "disc"
diameter_mm = 8
at_mm = [20, 30]
earth_pf = 150
tremor_mm = 0.1

[[step]]
title = "Power on"
text = """
Nothing lies on the glass. In a moment the unit is powered.
The panel lets its electronics settle, then looks at the glass: it averages some frames and compares \
them with what the factory stored. Only then may it call this picture "untouched"."""
question = "When is input on?"
run_s = 1.5
after = """
Input was on {seconds_until_on} after power-up. {reason}
Until then no touch is reported, whatever lies on the glass. This is the moment at which the glass \
must be bare."""

[[step.event]]
at_s = 0.2
do = "power_on"

[[step.choice]]
text = "In the first frame"
when = ["seconds_until_on < 0.05"]

[[step.choice]]
text = "Within one second"
when = ["seconds_until_on >= 0.05", "seconds_until_on < 1"]

[[step.choice]]
text = "Not before somebody touches the glass"
when = ["seconds_until_on is never"]

[[step]]
title = "A touch"
text = """
Input is on. A finger comes down in the left half of the glass. It takes charge away from the nodes \
under it: their raw counts fall, and the difference, baseline minus raw, rises.
From {touch_limit} of a normal finger's signal on, the panel calls it a touch."""
question = "How much of a normal finger's signal does the strongest node show?"
run_s = 1.0
after = """
The strongest node shows {percent_shown finger}, and the device reports this many contacts: {contacts}.
All percentages in these lessons are percent of this signal: a finger of 8 mm on an earthed device."""

[[step.event]]
at_s = 0.2
do = "put"
thing = "finger"

[[step.choice]]
text = "About a tenth"
when = ["percent_shown finger < 20"]

[[step.choice]]
text = "About half"
when = ["percent_shown finger >= 20", "percent_shown finger < 75"]

[[step.choice]]
text = "About all of it"
when = ["percent_shown finger >= 75"]
)text"},
      {"crack-and-tail.toml", R"text(# Broken lines: what a crack takes, what a tail takes, and how the device tells them apart.
title = "A crack and a worn tail"
about = "A crack takes the far part of lines, a bad tail takes all of them."
order = 80

[scene]
seed = 18
policy = "lock"

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10

[[step]]
title = "A knock"
text = """
The unit runs. Rows are driven from the left. A knock cuts row 4 between columns 4 and 5."""
question = "What becomes of row 4?"
run_s = 2.0
after = """
Row 4, column 1: {raw_change 4 1} of its bare reading. Column 8, beyond the cut: {raw_change 4 8}. The row below it, \
column 8: {raw_change 5 8}: it couples to the loose end.
A cut leaves the near part whole and takes the far part. Touches on this row are not passed on from now on. Whether \
input stays on is not decided yet: the device looks for two seconds before it is sure."""

[[step.event]]
at_s = 0
do = "power_on"

[[step.event]]
at_s = 1.5
do = "fault"
name = "cut of row 4"
kind = "cut"
lines = "rows"
first = 4
at = 5

[[step.choice]]
text = "All of it is dead"
when = ["raw_change 4 1 < -50", "raw_change 4 8 < -50"]

[[step.choice]]
text = "The near part works, the far part is dead"
when = ["raw_change 4 1 > -50", "raw_change 4 8 < -50"]

[[step.choice]]
text = "The far part works, the near part is dead"
when = ["raw_change 4 1 < -50", "raw_change 4 8 > -50"]

[[step]]
title = "The crack runs on"
text = """
The glass is cracked, and the crack runs on: row 5 breaks one column farther right, rows 6 and 7 again one \
column farther."""
question = "What does the device do now?"
run_s = 3.5
after = """
State: {state}. It found: {finding}. {reason}
The breaks lie on one line across the rows. That line is the crack: the device draws it through the ends of what \
still works. Nothing can be done at the bench but to replace the sensor; have an electrical safety test made after \
the case has been opened."""

[[step.event]]
at_s = 0
do = "fault"
name = "cut of row 5"
kind = "cut"
lines = "rows"
first = 5
at = 6

[[step.event]]
at_s = 0.2
do = "fault"
name = "cut of row 6"
kind = "cut"
lines = "rows"
first = 6
at = 7

[[step.event]]
at_s = 0.4
do = "fault"
name = "cut of row 7"
kind = "cut"
lines = "rows"
first = 7
at = 8

[[step.choice]]
text = "Input stays on; only the dead part does not answer"
when = ["state is running"]

[[step.choice]]
text = "Input goes off, because of a cut line"
when = ["state is not running", "finding is cut_line"]

[[step.choice]]
text = "Input goes off, because of something on the glass"
when = ["state is not running", "finding is not cut_line"]

[[step]]
title = "A worn plug"
fresh = {}
text = """
Another unit, its glass whole. But the plug of its tail is worn: after a while rows 8 to 10 have 40 kilohms more on \
their way than they should."""
question = "What becomes of row 9?"
run_s = 4.5
after = """
Row 9, column 1: {raw_change 9 1} of its bare reading. Column 8: {raw_change 9 8}. Row 5: {raw_change 5 8}.
The charge comes too slowly for all of the line, so all of the line reads low. Neighbouring rows that are low together \
point to the tail, not to the glass. The device found: {finding}. State: {state}."""

[[step.event]]
at_s = 0
do = "power_on"

[[step.event]]
at_s = 1.5
do = "fault"
name = "worn plug"
kind = "raised_resistance"
lines = "rows"
first = 8
last = 10
ohm = 40000

[[step.choice]]
text = "It reads low from one end to the other"
when = ["raw_change 9 1 < -10", "raw_change 9 8 < -10"]

[[step.choice]]
text = "Only its far part reads low"
when = ["raw_change 9 1 > -10", "raw_change 9 8 < -10"]

[[step.choice]]
text = "Nothing can be seen before it is touched"
when = ["raw_change 9 1 > -10", "raw_change 9 8 > -10"]

[[step]]
title = "The plug is pressed home"
text = """
The plug is pressed home while the unit runs. On a real bench it is switched off and unplugged before its case is \
opened; here it shows what the device makes of it."""
question = "Does input come back without a new power-up?"
run_s = 4.0
after = """
Row 9, column 1: {raw_change 9 1} of its bare reading. State: {state}. {reason}
The lines are whole, and input is still off: with the policy {policy}, what went off in use stays off until the next \
power-up. A plug that works after it was pressed may fail again: replace what is worn, and have an electrical safety \
test made after the case has been opened."""

[[step.event]]
at_s = 0.5
do = "repair"
name = "worn plug"

[[step.choice]]
text = "Yes, as soon as the lines are whole"
when = ["state is running"]

[[step.choice]]
text = "No, it stays off until the next power-up"
when = ["state is not running"]
)text"},
      {"dry-strip-damp-note.toml", R"text(# Why tape is blamed for what it only holds.
title = "A dry strip, a damp note"
about = "A dry strip of tape does next to nothing. What is held under it does."
order = 30

[scene]
seed = 13
policy = "lock"

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10

[[scene.thing]]
name = "tape strip"
look = "tape"
kind = "film"
shape = "rectangle"
width_mm = 56
height_mm = 19
at_mm = [22.5, 30]
film_um = 100
permittivity = 3.0

[[scene.thing]]
name = "damp note"
look = "paper"
kind = "conductor"
shape = "rectangle"
width_mm = 26
height_mm = 30
at_mm = [20, 30]

[[scene.thing]]
name = "hand"
look = "hand"
kind = "conductor"
shape = "polygon"
corners_mm = [[8, 22], [20, 20], [33, 21], [36, 32], [30, 42], [15, 43], [7, 34]]
earth_pf = 150
spacer_um = 100
spacer_permittivity = 3.0
tremor_mm = 0.2

[[step]]
title = "How much does a dry strip do?"
text = """
A strip of dry plastic tape, 19 mm wide and 0.1 mm thick, goes on the glass before power-up. Anything \
that departs from the stored picture by more than {surface_limit} of a finger's signal stops the start."""
question = "By how much does the dry strip move a node?"
run_s = 1.8
after = """
By {percent_of_finger tape strip} of a finger's signal, and in the other direction than a finger. State: {state}.
Dry tape has hardly more effect than a little thicker glass. It trips no threshold and spoils no baseline."""

[[step.event]]
at_s = 0
do = "put"
thing = "tape strip"

[[step.event]]
at_s = 0.3
do = "power_on"

[[step.choice]]
text = "By about 1 percent of a finger or less"
when = ["percent_of_finger tape strip > -2", "percent_of_finger tape strip < 2"]

[[step.choice]]
text = "By some 10 percent of a finger"
when = ["percent_of_finger tape strip <= -2", "percent_of_finger tape strip > -50"]

[[step.choice]]
text = "About as much as a finger"
when = ["percent_of_finger tape strip <= -50"]

[[step]]
title = "Moisture under it"
fresh = {}
text = """
Now a damp paper note lies under the tape. Tap water conducts: the note is a conductor \
without a path to ground. It couples every row it touches to every column it touches."""
question = "Does the unit start?"
run_s = 2.0
after = """
State: {state}. The damp note moves its nodes by {percent_of_finger damp note} of a finger's signal; the limit is {surface_limit}.
{reason}
The tape is the same as before. What it holds is what broke the start."""

[[step.event]]
at_s = 0
do = "put"
thing = "damp note"

[[step.event]]
at_s = 0
do = "put"
thing = "tape strip"

[[step.event]]
at_s = 0.3
do = "power_on"

[[step.choice]]
text = "It starts: the note is as harmless as the strip"
when = ["state is running"]

[[step.choice]]
text = "It refuses to start"
when = ["state is not running"]

[[step]]
title = "A hand on the dry strip"
fresh = {}
text = """
Dry tape again, nothing under it. But somebody presses it on just while the unit is powered, and lets \
go after two seconds."""
question = "Does the unit start?"
run_s = 4.0
after = """
State: {state}. The pressing hand is {percent_of_finger hand} of a finger's signal, through the tape. {reason}
Ask what else was on the glass at the moment of power-up, before you blame the tape."""

[[step.event]]
at_s = 0
do = "put"
thing = "tape strip"

[[step.event]]
at_s = 0
do = "put"
thing = "hand"

[[step.event]]
at_s = 0.3
do = "power_on"

[[step.event]]
at_s = 2.3
do = "lift"
thing = "hand"

[[step.choice]]
text = "It starts: dry tape is harmless"
when = ["state is running"]

[[step.choice]]
text = "It refuses to start: the hand is what it sees"
when = ["state is not running"]
)text"},
      {"finger-at-power-up.toml", R"text(# The same finger at power-up under each of the four start policies.
title = "A finger at power-up"
about = "Four policies, one finger: what each does, and what it costs."
order = 20

[scene]
seed = 12
policy = "lock"

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10

[[scene.thing]]
name = "finger"
look = "finger"
kind = "conductor"
shape = "disc"
diameter_mm = 8
at_mm = [20, 30]
earth_pf = 150
tremor_mm = 0.1

[[step]]
title = "Policy: lock"
fresh = {policy = "lock"}
text = """
A finger rests on the glass while the unit is powered. After two and a half seconds it is lifted.
The policy is "lock": an object at power-up switches input off until the next power-up."""
question = "What does input do within six seconds?"
run_s = 6.0
after = """
State: {state}. {reason}
The finger has been gone for a while, and still there is no input. Staff call this "has no touch". Switching the unit off and on with bare glass is the whole repair."""

[[step.event]]
at_s = 0
do = "put"
thing = "finger"

[[step.event]]
at_s = 0.1
do = "power_on"

[[step.event]]
at_s = 2.6
do = "lift"
thing = "finger"

[[step.choice]]
text = "Comes on with the finger still there"
when = ["seconds_until_on < 2"]

[[step.choice]]
text = "Comes on some time after the finger is lifted"
when = ["seconds_until_on >= 2"]

[[step.choice]]
text = "Stays off until the unit is switched off and on"
when = ["seconds_until_on is never", "state is off"]

[[step.choice]]
text = "Stays off and asks for a technician"
when = ["seconds_until_on is never", "state is service"]

[[step]]
title = "Policy: wait"
fresh = {policy = "wait"}
text = """
The same finger again, lifted after two and a half seconds. The policy is "wait": the panel looks again at intervals until the glass is bare."""
question = "What does input do within six seconds?"
run_s = 6.0
after = """
State: {state}, {seconds_until_on} after power-up, after this many looks at the glass: {looks}.
Under this policy the unit helps itself, as long as the thing goes away."""

[[step.event]]
at_s = 0
do = "put"
thing = "finger"

[[step.event]]
at_s = 0.1
do = "power_on"

[[step.event]]
at_s = 2.6
do = "lift"
thing = "finger"

[[step.choice]]
text = "Comes on with the finger still there"
when = ["seconds_until_on < 2"]

[[step.choice]]
text = "Comes on some time after the finger is lifted"
when = ["seconds_until_on >= 2"]

[[step.choice]]
text = "Stays off until the unit is switched off and on"
when = ["seconds_until_on is never", "state is off"]

[[step.choice]]
text = "Stays off and asks for a technician"
when = ["seconds_until_on is never", "state is service"]

[[step]]
title = "Policy: adopt"
fresh = {policy = "adopt"}
text = """
The same finger again, lifted after two and a half seconds. The policy is "adopt": the panel takes what it sees for untouched, and goes on."""
question = "What does input do within six seconds?"
run_s = 6.0
after = """
Input was on {seconds_until_on} after power-up, with the finger in the baseline. While it lay there, its place was dead. When it was lifted, the nodes went the other way, down to {lowest_ever}: without a second look at its baseline a panel keeps a dead patch there. {reason}"""

[[step.event]]
at_s = 0
do = "put"
thing = "finger"

[[step.event]]
at_s = 0.1
do = "power_on"

[[step.event]]
at_s = 2.6
do = "lift"
thing = "finger"

[[step.choice]]
text = "Comes on with the finger still there"
when = ["seconds_until_on < 2"]

[[step.choice]]
text = "Comes on some time after the finger is lifted"
when = ["seconds_until_on >= 2"]

[[step.choice]]
text = "Stays off until the unit is switched off and on"
when = ["seconds_until_on is never", "state is off"]

[[step.choice]]
text = "Stays off and asks for a technician"
when = ["seconds_until_on is never", "state is service"]

[[step]]
title = "Policy: service"
fresh = {policy = "service"}
text = """
The same finger again, lifted after two and a half seconds. The policy is "service": an object at power-up opens a set-up mode for the technician."""
question = "What does input do within six seconds?"
run_s = 6.0
after = """
State: {state}. {reason}
The unit asks for somebody who knows what to do. On a ward at night that is nobody."""

[[step.event]]
at_s = 0
do = "put"
thing = "finger"

[[step.event]]
at_s = 0.1
do = "power_on"

[[step.event]]
at_s = 2.6
do = "lift"
thing = "finger"

[[step.choice]]
text = "Comes on with the finger still there"
when = ["seconds_until_on < 2"]

[[step.choice]]
text = "Comes on some time after the finger is lifted"
when = ["seconds_until_on >= 2"]

[[step.choice]]
text = "Stays off until the unit is switched off and on"
when = ["seconds_until_on is never", "state is off"]

[[step.choice]]
text = "Stays off and asks for a technician"
when = ["seconds_until_on is never", "state is service"]
)text"},
      {"floating-ground.toml", R"text(# A touch needs a way back: through earth.
title = "No earth, half a touch"
about = "On an insulating tray, or with a pushed-in dock contact, every touch is weak."
order = 90

[scene]
seed = 19
policy = "lock"

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10

[scene.device]
earth_pf = 3
supply_mv = 3700

[[scene.thing]]
name = "finger"
look = "finger"
kind = "conductor"
shape = "disc"
diameter_mm = 8
at_mm = [15, 25]
earth_pf = 150
tremor_mm = 0.1

[[step]]
title = "On a plastic tray"
text = """
The unit runs on its battery and lies on a plastic tray, with some 3 pF to earth. The glass is bare, the \
start is good. A finger comes down."""
question = "How strong is the touch?"
run_s = 2.5
after = """
{percent_shown finger} of what the same finger gives on an earthed device; a touch begins at {touch_limit}. Contacts: {contacts}.
The charge that the finger takes has to come back to the device through earth. Here it comes through 3 pF."""

[[step.event]]
at_s = 0
do = "power_on"

[[step.event]]
at_s = 1.5
do = "put"
thing = "finger"

[[step.choice]]
text = "As strong as always"
when = ["percent_shown finger >= 75"]

[[step.choice]]
text = "About half or less"
when = ["percent_shown finger < 75", "percent_shown finger >= 20"]

[[step.choice]]
text = "Nothing at all"
when = ["percent_shown finger < 20"]

[[step]]
title = "Into the dock"
text = """
The finger stays. The unit is put into its dock: the charging lamp lights. But the earth contact of the \
dock is pushed in and does not touch: through the supply there are some 10 pF to earth."""
question = "How strong is the touch now?"
run_s = 1.0
after = """
{percent_shown finger}. It charges, and still every touch is weaker than it should be: the lamp tells of the supply, not of the earth."""

[[step.event]]
at_s = 0
do = "dock"
earth_pf = 10

[[step.choice]]
text = "Full strength: it is docked"
when = ["percent_shown finger >= 90"]

[[step.choice]]
text = "Better, but not full strength"
when = ["percent_shown finger < 90", "percent_shown finger >= 45"]

[[step.choice]]
text = "Worse than on the tray"
when = ["percent_shown finger < 45"]

[[step]]
title = "The contact pulled out"
text = """
The pushed-in contact is set right, and the device is earthed."""
question = "How strong is the touch now?"
run_s = 1.0
after = """
{percent_shown finger}. Nothing about the panel has changed. Compare the touch in the dock and out of it before you change a \
panel that is only badly earthed."""

[[step.event]]
at_s = 0
do = "earth"
earth_pf = "earthed"

[[step.choice]]
text = "Full strength"
when = ["percent_shown finger >= 90"]

[[step.choice]]
text = "As before"
when = ["percent_shown finger < 90"]
)text"},
      {"isolated-streak.toml", R"text(# Water that touches nothing earthed, in the wrong shape.
title = "Touches where nobody touched"
about = "A wet streak across the lines makes signals as strong as a touch."
order = 60

[scene]
seed = 16
policy = "wait"

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10

[[scene.thing]]
name = "compact puddle"
look = "wet_film"
kind = "conductor"
shape = "rectangle"
width_mm = 20
height_mm = 20
at_mm = [20, 35]

[[scene.thing]]
name = "streak"
look = "wet_film"
kind = "conductor"
shape = "stroke"
width_mm = 5
path_mm = [[10, 25], [30, 45]]

[[step]]
title = "A compact puddle"
text = """
The unit has started on bare glass. Now somebody spills a compact puddle of 20 mm. It touches nothing \
earthed."""
question = "Which way do the nodes under it go?"
run_s = 3.5
after = """
{percent_of_finger compact puddle} of a finger's signal at the strongest node: against the direction of a touch, and much less than one. \
Contacts reported: {contacts_nobody_made}. A compact isolated puddle can't be a touch."""

[[step.event]]
at_s = 0
do = "power_on"

[[step.event]]
at_s = 1.5
do = "put"
thing = "compact puddle"

[[step.choice]]
text = "The way of a touch, as strong as a finger"
when = ["percent_of_finger compact puddle >= 30"]

[[step.choice]]
text = "The other way, and weakly"
when = ["percent_of_finger compact puddle < 0", "percent_of_finger compact puddle > -30"]

[[step.choice]]
text = "The other way, as strong as a finger"
when = ["percent_of_finger compact puddle <= -30"]

[[step]]
title = "The same water, drawn out"
fresh = {}
text = """
The same start, but the cloth draws the water out into a streak along a diagonal, over five rows and \
five columns. It couples all five rows with all five columns: also those crossings that it does not cover."""
question = "What does the difference show along the streak?"
run_s = 2.2
after = """
Up to {highest_ever} of a finger's signal on the streak, down to {lowest_ever} beside it; a touch begins at {touch_limit}. Nobody touched \
the glass. Contacts that the device reported at once: {contacts_nobody_made}. State: {state}. {reason}
Both signs side by side is the mark of an isolated conductor across the lines."""

[[step.event]]
at_s = 0
do = "power_on"

[[step.event]]
at_s = 1.5
do = "put"
thing = "streak"

[[step.choice]]
text = "The same weak rise as under the puddle"
when = ["highest_ever < 8"]

[[step.choice]]
text = "A signal below a touch"
when = ["highest_ever >= 8", "highest_ever < 30"]

[[step.choice]]
text = "Signals as strong as a touch"
when = ["highest_ever >= 30"]
)text"},
      {"peeled-after-start.toml", R"text(# What is in the baseline comes back with the opposite sign when it is taken away.
title = "Peeled after the start"
about = "What was taken for untouched leaves a phantom touch when it goes."
order = 40

[scene]
seed = 14
policy = "adopt"
factory_reference = false

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10

[[scene.thing]]
name = "wet smear"
look = "wet_film"
kind = "conductor"
shape = "stroke"
width_mm = 5
path_mm = [[35, 30], [15, 30], [15, 50]]

[[scene.thing]]
name = "tape strip"
look = "tape"
kind = "film"
shape = "rectangle"
width_mm = 56
height_mm = 19
at_mm = [22.5, 30]
film_um = 100
permittivity = 3.0

[[step]]
title = "Adopted"
text = """
Water trapped at the edges of a label has the shape of an L and touches nothing earthed. The unit has no \
factory reference, and its policy is "adopt": it takes what it sees for untouched.
An isolated conductor raises counts where it covers a crossing of many rows and columns: \
{percent_of_finger wet smear} of a finger's signal at its strongest node, against the direction of a touch."""
question = "Does the unit start?"
run_s = 2.0
after = """
Input was on {seconds_until_on} after power-up. {reason}
Everything looks well. The smear is in the baseline."""

[[step.event]]
at_s = 0
do = "put"
thing = "wet smear"

[[step.event]]
at_s = 0.3
do = "power_on"

[[step.choice]]
text = "Yes, with the smear in its baseline"
when = ["state is running"]

[[step.choice]]
text = "No, input stays off"
when = ["state is not running"]

[[step]]
title = "Peeled"
text = """
Now the label is peeled off and the water goes with it. The glass is bare, and nobody touches it."""
question = "What does the difference show at the corner of the L?"
run_s = 0.3
after = """
Up to {highest_ever} of a finger's signal; a touch begins at {touch_limit}. A panel that trusts its baseline reports a touch \
there for as long as that baseline lasts. Contacts that this one reported: {contacts_nobody_made}. {reason}"""

[[step.event]]
at_s = 0.1
do = "wipe"
thing = "wet smear"

[[step.choice]]
text = "Nothing: the glass is bare"
when = ["highest_ever < 8"]

[[step.choice]]
text = "Something, but less than a touch"
when = ["highest_ever >= 8", "highest_ever < 30"]

[[step.choice]]
text = "More than a touch: a phantom"
when = ["highest_ever >= 30"]

[[step]]
title = "The same with dry tape"
fresh = {}
text = """
For comparison: a dry strip of tape is there at power-up, is taken into the baseline, and is peeled off \
after the start."""
question = "What does the difference show where the strip was?"
run_s = 3.0
after = """
At most {highest_ever} of a finger's signal, noise included. The strip alone is {percent_of_finger tape strip}. State: {state}.
Dry tape leaves no phantom, neither when it is put on nor when it is peeled off."""

[[step.event]]
at_s = 0
do = "put"
thing = "tape strip"

[[step.event]]
at_s = 0.3
do = "power_on"

[[step.event]]
at_s = 2.0
do = "peel"
thing = "tape strip"

[[step.choice]]
text = "Nothing to speak of"
when = ["highest_ever < 8"]

[[step.choice]]
text = "A phantom touch"
when = ["highest_ever >= 30"]
)text"},
      {"wet-bezel.toml", R"text(# Fluid in the gap of the bezel: water that reaches ground acts like a hand.
title = "Fluid at the bezel"
about = "Water that reaches the earthed bezel is a touch along the whole border."
order = 70

[scene]
seed = 17
policy = "lock"

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10

[[scene.thing]]
name = "fluid"
look = "bezel_fluid"
kind = "conductor"
shape = "polygon"
corners_mm = [[0, -12], [45, -12], [45, 2], [36, 4], [20, 1.5], [9, 3], [0, 1]]
touches_bezel = true

[[scene.thing]]
name = "puddle"
look = "wet_film"
kind = "conductor"
shape = "rectangle"
width_mm = 36
height_mm = 13
at_mm = [22.5, 40]

[[step]]
title = "Isolated or not"
text = """
Two wet places of about the same kind: a puddle in the middle of the glass that touches nothing, \
and fluid that has crept out of the gap at the upper edge, where it touches the earthed bezel."""
question = "Which one looks like a touch?"
run_s = 0.0
after = """
The fluid at the bezel: {percent_of_finger fluid} of a finger's signal. The isolated puddle: {percent_of_finger puddle}, the other way.
Charge that reaches ground is lost, as it is in a finger. Charge that can't go anywhere is coupled from row to column."""

[[step.choice]]
text = "Both"
when = ["percent_of_finger fluid >= 30", "percent_of_finger puddle >= 30"]

[[step.choice]]
text = "The fluid at the bezel"
when = ["percent_of_finger fluid >= 30", "percent_of_finger puddle < 30"]

[[step.choice]]
text = "The puddle in the middle"
when = ["percent_of_finger fluid < 30", "percent_of_finger puddle >= 30"]

[[step]]
title = "Powered with a wet bezel"
text = """
The unit is powered with the fluid at its upper edge."""
question = "What happens, and where does the panel see it?"
run_s = 2.0
after = """
State: {state}. Kind of finding: {finding}. {reason}
A band along a border points to the bezel: dry the gap, and look for where the fluid comes from."""

[[step.event]]
at_s = 0
do = "put"
thing = "fluid"

[[step.event]]
at_s = 0.2
do = "power_on"

[[step.choice]]
text = "It starts: the middle of the glass is dry"
when = ["state is running"]

[[step.choice]]
text = "It refuses, because of a band along the border"
when = ["state is not running", "finding is border_band"]

[[step.choice]]
text = "It refuses, because of a touch in the middle"
when = ["state is not running", "finding is held_touch"]

[[step]]
title = "Wiped and powered again"
text = """
The gap is wiped dry, and the unit is switched off and on."""
question = "Does it start?"
run_s = 2.5
after = "State: {state}, {seconds_until_on} after power-up."

[[step.event]]
at_s = 0.2
do = "wipe"
thing = "fluid"

[[step.event]]
at_s = 0.6
do = "power_off"

[[step.event]]
at_s = 0.9
do = "power_on"

[[step.choice]]
text = "Yes"
when = ["state is running"]

[[step.choice]]
text = "No"
when = ["state is not running"]
)text"},
      {"wet-wipe-down.toml", R"text(# Wiped wet, powered wet: the unit waits, and the wait is the repair.
title = "Wet from a wipe-down"
about = "A wet glass refuses to start; a dry one starts by itself, if the policy lets it."
order = 50

[scene]
seed = 15
policy = "wait"

[scene.panel]
glass_mm = 1.1
rows = 16
columns = 10
frame_period_ms = 50

[[scene.thing]]
name = "puddle"
look = "wet_film"
kind = "conductor"
shape = "rectangle"
width_mm = 34
height_mm = 38
at_mm = [21, 30]

[[scene.thing]]
name = "disinfectant film"
look = "wet_film"
kind = "film"
shape = "rectangle"
width_mm = 60
height_mm = 90
at_mm = [22.5, 37.5]
film_um = 100
permittivity = 19

[[step]]
title = "Powered wet"
text = """
The glass has just been wiped. A puddle of water without a path to ground lies in a film of \
disinfectant. The film of alcohol is no conductor: {percent_of_finger disinfectant film} of a finger's signal. The puddle \
conducts: {percent_of_finger puddle}. The policy is "wait"."""
question = "What does the panel say after five seconds?"
run_s = 5.5
after = """
State: {state}, looks so far: {looks}. {reason}"""

[[step.event]]
at_s = 0
do = "put"
thing = "disinfectant film"

[[step.event]]
at_s = 0
do = "put"
thing = "puddle"

[[step.event]]
at_s = 0.5
do = "power_on"

[[step.choice]]
text = "Input is on: water is not a finger"
when = ["state is running"]

[[step.choice]]
text = "Input is off, and it looks again and again"
when = ["state is waiting"]

[[step.choice]]
text = "Input is off until the next power-up"
when = ["state is off"]

[[step]]
title = "Let it dry"
text = """
Nobody does anything. The alcohol is gone after ten seconds, the puddle shrinks and is gone after thirty."""
question = "What happens?"
run_s = 34.0
after = """
Input came on by itself, {seconds_until_on} after power-up and with nobody near it. {reason}
Under the policy "lock" the same unit would still be dark. Let the glass dry before you power a unit, \
and use only the agents and the drying times that its maker permits."""

[[step.event]]
at_s = 0
do = "dry"
thing = "disinfectant film"
over_s = 10

[[step.event]]
at_s = 0
do = "dry"
thing = "puddle"
over_s = 30

[[step.choice]]
text = "Input comes on while the puddle is still large"
when = ["seconds_until_on < 15"]

[[step.choice]]
text = "Input comes on when hardly anything is left"
when = ["seconds_until_on >= 15"]

[[step.choice]]
text = "Input stays off: it has to be switched off and on"
when = ["seconds_until_on is never"]
)text"},
  };
  return kTexts;
}

}  // namespace bareglass::view
