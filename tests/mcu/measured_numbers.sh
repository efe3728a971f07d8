#!/usr/bin/env bash
# Measures the core on the emulated Cortex-M3; prints one `name value` a line.
#   measured_numbers.sh IMAGE_FOLDER (see build_images.sh). Exit code 77 (skip) without the tools.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
images=${1:?usage: measured_numbers.sh IMAGE_FOLDER}

code=0
lines=$(bash "$here/run_image.sh" "$images/measure.elf") || code=$?
[ "$code" -eq 0 ] || { echo "$lines"; exit "$code"; }
number() { awk -v name="$1" '$1 == name {print $2}' <<<"$lines"; }

# What is measured is believed only if known quantities come out right: a loop of a million
# instructions, and a function that fills 500 bytes of stack.
loop=$(number calibration_loop)
if [ "$loop" -lt 999000 ] || [ "$loop" -gt 1001000 ]; then
  echo "a loop of 1000000 instructions was counted as $loop: the counter cannot be trusted"
  exit 1
fi
known_stack=$(number stack_known_500)
if [ "$known_stack" -lt 500 ] || [ "$known_stack" -gt 620 ]; then
  echo "500 bytes of stack were measured as $known_stack: the measurement cannot be trusted"
  exit 1
fi
for name in frame_idle frame_two_contacts frame_ten_contacts; do
  [ "$(number "$name")" -gt 0 ] || { echo "$name: the engine lost its contacts"; exit 1; }
done

echo "$lines"
nodes=$(number nodes)
for name in idle two_contacts ten_contacts; do
  awk -v name="$name" -v n="$nodes" -v all="$(number "frame_$name")" \
    'BEGIN {printf "instructions_%s %.1f\n", name, all / n}'
done
arm-none-eabi-size "$images/footprint.elf" | awk 'NR == 2 {print "flash_bytes", $1 + $2}'
echo "ram_bytes $(($(number storage_bytes) + $(number engine_bytes)))"
mapfile -t graphs < <(find "$images/core" -name '*.ci')
awk -v from=_ZN9bareglass6Engine4stepERKNS_5FrameE -f "$here/stack_bound.awk" "${graphs[@]}"
