#!/usr/bin/env bash
# Writes every dump of fixtures/ anew from its scenario.   make_fixtures.sh BAREGLASS [FOLDER]
# BAREGLASS is the built command; FOLDER is fixtures/ of this tree unless given. Scenarios carry
# their seeds, so the same bytes come out.
set -euo pipefail

bareglass=${1:?usage: make_fixtures.sh BAREGLASS [FOLDER]}
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
folder=${2:-$root/fixtures}

# Dumps that are kept, each named as its scenario.
dumps=(bare-glass finger-at-power-up damp-note-peeled wet-film-drying wet-bezel isolated-streak
  starts-late)

# damage FROM TO: what a loose plug does to a transmission. Twelve bytes garbled, 5000 missing in
# the middle, and the recording torn off 100 bytes before its end.
damage() {
  local size half k
  size=$(stat -c %s "$1")
  half=$((size / 2))
  cp "$1" "$2"
  for k in 1 2 3 4 5 6 7 8 9 10 11 12; do
    printf '\xa5' | dd of="$2" bs=1 seek=$((2000 + k * (size - 4000) / 13)) conv=notrunc status=none
  done
  { head -c "$half" "$2" && tail -c +$((half + 5001)) "$2" | head -c -100; } >"$2.part"
  mv "$2.part" "$2"
}

for name in "${dumps[@]}"; do
  "$bareglass" simulate "$root/fixtures/scenarios/$name.toml" -o "$folder/$name.frames"
done
damage "$folder/finger-at-power-up.frames" "$folder/damaged.frames"
