#!/usr/bin/env bash
# The replay on a real X display, driven by real X events: keys and a drag go in through the X server,
# what the window did is read from what it remembered, and pictures are kept for people to look at.
#   window_on_a_display_check.sh COMMAND SOURCE_FOLDER PICTURE_FOLDER
# Exit code 77: a program this needs is missing.
set -euo pipefail
command=${1:?usage: window_on_a_display_check.sh COMMAND SOURCE_FOLDER PICTURE_FOLDER}
source=${2:?}
pictures=${3:?}

for program in Xvfb xdotool import compare; do
  command -v "$program" >/dev/null || { echo "skipped: $program is missing"; exit 77; }
done

scratch=$(mktemp -d)
server=
window=
cleanup() {
  if [ -n "$window" ]; then kill "$window" 2>/dev/null || true; fi
  if [ -n "$server" ]; then kill "$server" 2>/dev/null || true; fi
  rm -rf "$scratch"
}
trap cleanup EXIT
fail() {
  echo "FAILED: $*" >&2
  cat "$scratch/stderr" >&2 2>/dev/null || true
  exit 1
}

mkdir -p "$pictures" "$scratch/config"
Xvfb -displayfd 3 -screen 0 1280x800x24 3>"$scratch/display" 2>"$scratch/xvfb" &
server=$!
for _ in $(seq 100); do
  [ -s "$scratch/display" ] && break
  sleep 0.1
done
[ -s "$scratch/display" ] || fail "no X server"
DISPLAY=:$(tr -d '[:space:]' <"$scratch/display")
export DISPLAY XDG_CONFIG_HOME="$scratch/config"
unset SDL_VIDEODRIVER

"$command" view "$source/fixtures/damp-note-peeled.frames" --size 1280x800 --scale 1 \
  2>"$scratch/stderr" &
window=$!
id=$(timeout 30 xdotool search --sync --onlyvisible --name 'bareglass' | head -n 1) ||
  fail "no window appeared"
xdotool windowmove "$id" 0 0
# Without a window manager nobody gives the window the keyboard.
xdotool windowfocus "$id"
sleep 1.5
import -window "$id" "$pictures/display_decision.png"

# differ A B: pixels that differ by more than a tenth.
differ() { compare -metric AE -fuzz 10% "$1" "$2" null: 2>&1 | tr -dc '0-9.e+' || true; }
more_than() { awk -v a="$1" -v b="$2" 'BEGIN { exit !(a > b) }'; }

# A drag along the timeline.
xdotool mousemove 90 712 mousedown 1
for x in 200 400 600 800 1000; do
  xdotool mousemove "$x" 712
  sleep 0.1
done
xdotool mouseup 1
sleep 1
import -window "$id" "$pictures/display_dragged.png"
count=$(differ "$pictures/display_decision.png" "$pictures/display_dragged.png")
more_than "$count" 2000 || fail "the drag changed only $count pixels"

# Back to the decision by key: the first picture again.
xdotool mousemove 640 100
xdotool key d
sleep 1
import -window "$id" "$pictures/display_decision_again.png"
count=$(differ "$pictures/display_decision.png" "$pictures/display_decision_again.png")
more_than 2000 "$count" || fail "back at the decision, $count pixels differ"

# A layer by its key, a click on a button, then the end.
xdotool key 4
sleep 0.5
xdotool mousemove 50 119 click 1
sleep 0.7
import -window "$id" "$pictures/display_raw.png"
xdotool key ctrl+q
for _ in $(seq 50); do
  kill -0 "$window" 2>/dev/null || break
  sleep 0.1
done
kill -0 "$window" 2>/dev/null && fail "Ctrl+Q did not close the window"
wait "$window" || fail "the window ended with an error"
window=
memory="$scratch/config/bareglass/window.toml"
[ -f "$memory" ] || fail "nothing was remembered"
grep -q "layer = ['\"]raw['\"]" "$memory" || fail "the click on the raw layer left $(cat "$memory")"
grep -q 'damp-note-peeled.frames' "$memory" || fail "the dump is not among the recent ones"
echo "the window on a display: drag, keys, click and end as expected"
