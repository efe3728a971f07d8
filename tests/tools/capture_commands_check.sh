#!/usr/bin/env bash
# The commands info and convert from outside: exit codes, one line per error, nothing half-written.
#   capture_commands_check.sh BAREGLASS_COMMAND SOURCE_FOLDER
set -u
command=$(realpath "${1:?usage: capture_commands_check.sh BAREGLASS_COMMAND SOURCE_FOLDER}")
source=$(realpath "${2:?usage: capture_commands_check.sh BAREGLASS_COMMAND SOURCE_FOLDER}")
dump=$source/fixtures/bare-glass.frames
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder" || exit 1
wrong=0
cases=0

fail() {
  echo "WRONG: $*"
  wrong=$((wrong + 1))
}

# expect CODE TEXT ARGUMENTS...: exit code and a text that standard error must hold, in one line.
expect() {
  local code=$1 text=$2 got
  shift 2
  cases=$((cases + 1))
  "$command" "$@" >out 2>err </dev/null
  got=$?
  [ "$got" = "$code" ] || fail "'$*' exits with $got, expected $code"
  [ -z "$text" ] && return
  grep -qF -- "$text" err || fail "'$*' does not say '$text' but: $(cat err)"
  [ "$(wc -l <err)" = 1 ] || fail "'$*' says more than one line"
}

# shown TEXT: what the last command printed.
shown() { grep -qF -- "$1" out || fail "output without '$1': $(cat out)"; }

expect 0 "" --help
shown convert
expect 0 "" info --help
shown --frame-period
expect 0 "" convert --help
expect 0 "" --version
expect 2 "expected a command"
expect 2 "unknown command 'nonsense'" nonsense
expect 2 "expected DUMP" info
expect 2 "expected OUTPUT" convert "$dump"
expect 2 "colour" info "$dump" --colour
expect 2 "--format expects one of" info "$dump" --format pictures
expect 2 "--rows expects a number from 1 to 1024, not 70000" info "$dump" --rows 70000
expect 2 "--frame-period expects a time" info "$dump" --frame-period 8
expect 2 "does not tell a format" convert "$dump" x.xyz
expect 3 "is a directory" info "$folder"
expect 3 "nothing: cannot open" info nothing
: >empty
expect 3 "byte 0: is empty" info empty
printf 'hello\n' >hello
expect 3 "--format" info hello
expect 3 "not recognised" info hello
expect 0 "" record --how
shown "How to capture a start-up"
expect 0 "" record --help
shown "--baud"
expect 4 "No space left on device" convert "$dump" /dev/full --to csv
expect 4 "needs a regular file" convert "$dump" - --to npy

expect 0 "" info "$dump"
shown "16 rows x 10 columns"
shown "250 raw"  # 5 s at 20 ms, as the scenario says
expect 0 "" info "$dump" --json
shown '"raw_frames": 250'
"$command" info "$dump" >/dev/full 2>err
[ $? = 4 ] || fail "info to a full disk must exit with 4"

# What a dump says of itself is confirmed in silence and not contradicted in silence.
expect 0 "" info "$dump" --rows 16 --columns 10 --values raw --frame-period 20ms
expect 3 "expected the rows and columns asked for, but the dump has 16 and 10" info "$dump" --rows 3
expect 3 "expected the rows and columns" info "$dump" --columns 11
expect 3 "but the dump begins with raw frames" info "$dump" --values difference
expect 3 "expected 8000 us a frame as asked for, but the dump has 20000" \
  info "$dump" --frame-period 8ms
expect 3 "expected the rows" explain "$dump" --rows 3

# Round trips. A text capture and a stream hold the same; an array holds the frames only.
expect 0 "" convert "$dump" there.csv
expect 0 "" convert there.csv back.frames
cmp -s "$dump" back.frames || fail "frames to csv and back is another file"
"$command" convert - - --to csv <"$dump" 2>err | cmp -s - there.csv || fail "convert by pipes differs"
expect 0 "left out: 1 panel descriptions" convert "$dump" there.npy
expect 0 "left out" convert "$dump" there.tu16
tail -c +129 there.npy | cmp -s - there.tu16 || fail "array and touch frames differ"
expect 3 "--frame-period" info there.npy
expect 0 "" info there.tu16 --rows 16 --columns 10 --frame-period 20ms
shown "tu16"
expect 3 "expected a whole number of frames" \
  info there.tu16 --format tu16 --rows 40 --columns 24 --frame-period 8ms

# Damage is survived, counted and told; what can't be read leaves no output behind.
{ head -c 3000 "$dump"; printf 'garbage'; tail -c +3200 "$dump"; } >damaged
expect 0 "damaged packets" convert damaged mended.frames
expect 0 "" info mended.frames
shown "damaged packets in its source"
{ head -n 40 there.csv; echo '1,2,nan'; } >bad.csv
expect 3 "line 41: " convert bad.csv never.csv
[ ! -e never.csv ] || fail "a failed conversion left its output"
expect 0 "1 malformed lines" convert bad.csv skipped.csv --skip-bad
ls -- *partial* >/dev/null 2>&1 && fail "a temporary file was left"

# A closed pipe ends with a message, not with a signal.
{ "$command" convert "$dump" - --to csv 2>err; echo $? >code; } | true
[ "$(cat code)" = 4 ] || fail "a closed pipe exits with $(cat code)"
grep -q "Broken pipe" err || fail "a closed pipe is not named"

echo "$cases command lines and more: $wrong wrong"
[ "$wrong" = 0 ]
