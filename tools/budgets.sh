#!/usr/bin/env bash
# One table of what the product costs, each number beside its budget.   tools/budgets.sh [BUILD]
# BUILD (default build/) holds a release build; with -DBAREGLASS_BENCHMARKS=ON its benchmarks are
# run too. Exit code 0: all measured and within budget; 2: something is over; 1: a measurement
# failed or could not be made.
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"
build=${1:-build}
mcu=tests/mcu
over=0
absent=0

row() { printf '%-58s %12s %12s   %s\n' "$@"; }

# measured WHAT VALUE BUDGET UNIT
measured() {
  local verdict=pass
  if awk -v v="$2" -v l="$3" 'BEGIN {exit !(v > l)}'; then
    verdict=OVER
    over=1
  fi
  row "$1" "$2" "$3" "$4, $verdict"
}

not_measured() {
  row "$1" - - "not measured: $2"
  absent=1
}

microcontroller() {
  local numbers
  if ! numbers=$(bash $mcu/build_images.sh "$build/mcu" && bash $mcu/measured_numbers.sh "$build/mcu"); then
    not_measured "core on Cortex-M3, 40 x 24" "$(tail -1 <<<"$numbers")"
    return
  fi
  number() { awk -v name="$1" '$1 == name {print $2}' <<<"$numbers"; }
  local nodes
  nodes=$(number nodes)
  measured "Cortex-M3 image with all stages and packets, flash" "$(number flash_bytes)" 40960 bytes
  measured "Cortex-M3, engine and storage of 40 x 24, RAM" "$(number ram_bytes)" \
    "$((12 * nodes + 4096))" bytes
  row "  of which fixed, whatever the panel" "$(number engine_bytes)" "" bytes
  row "  of which storage, per node" \
    "$(awk -v b="$(number storage_bytes)" -v n="$nodes" 'BEGIN {printf "%.2f", b / n}')" "" bytes
  measured "Cortex-M3, stack of a step, bound from the call graph" "$(number stack_bound)" 1024 bytes
  measured "Cortex-M3, stack of a step, deepest seen" "$(number stack_step)" 1024 bytes
  measured "Cortex-M3, 40 x 24, idle frame" "$(number instructions_idle)" 60 "instructions per node"
  measured "Cortex-M3, 40 x 24, two contacts" "$(number instructions_two_contacts)" 80 "instructions per node"
  row "Cortex-M3, 40 x 24, ten contacts" "$(number instructions_ten_contacts)" "" "instructions per node"
}

# Benchmarks end with lines `budget NAME VALUE UNIT at-most|at-least LIMIT`.
host() {
  local program="$build/tests/bench/bareglass_bench" output name value unit kind limit
  if [ ! -x "$program" ]; then
    not_measured "host benchmarks" "configure with -DBAREGLASS_BENCHMARKS=ON"
    return
  fi
  output=$("$program" --benchmark_min_time=0.2 2>/dev/null) || [ $? -eq 2 ] || {
    echo "$output"
    not_measured "host benchmarks" "$program failed"
    return
  }
  while read -r _ name value unit kind limit; do
    case $kind in
      at-most) measured "host, $name" "$value" "$limit" "$unit" ;;
      at-least) at_least "host, $name" "$value" "$limit" "$unit" ;;
      *) row "host, $name" "$value" "" "$unit" ;;
    esac
  done < <(grep '^budget ' <<<"$output")
}

at_least() {
  local verdict=pass
  if awk -v v="$2" -v l="$3" 'BEGIN {exit !(v < l)}'; then
    verdict=OVER
    over=1
  fi
  row "$1" "$2" ">= $3" "$4, $verdict"
}

row "what" "measured" "budget" ""
microcontroller
host
[ "$absent" -eq 0 ] || exit 1
[ "$over" -eq 0 ] || exit 2
