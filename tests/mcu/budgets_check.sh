#!/usr/bin/env bash
# The core keeps its budgets of flash, memory and stack on the Cortex-M3, and its instructions per
# node do not grow unnoticed.   budgets_check.sh IMAGE_FOLDER
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
images=${1:?usage: budgets_check.sh IMAGE_FOLDER}

code=0
measured=$(bash "$here/measured_numbers.sh" "$images") || code=$?
echo "$measured"
[ "$code" -eq 0 ] || exit "$code"

number() { awk -v name="$1" '$1 == name {print $2}' <<<"$measured"; }
failed=0
# at_most NAME LIMIT
at_most() {
  local value
  value=$(number "$1")
  if [ -z "$value" ] || awk -v v="$value" -v l="$2" 'BEGIN {exit !(v > l)}'; then
    echo "OVER: $1 is '${value}', limit $2"
    failed=1
  fi
}
at_most flash_bytes 40960
at_most ram_bytes "$((12 * $(number nodes) + 4096))"
at_most stack_bound 1024
at_most stack_step 1024
at_most instructions_idle 60
at_most instructions_two_contacts 80
exit "$failed"
