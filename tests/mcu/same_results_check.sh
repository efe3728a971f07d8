#!/usr/bin/env bash
# The microcontroller and the host tell the same story, checksum by checksum.
#   same_results_check.sh IMAGE_FOLDER HOST_PROGRAM
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
images=${1:?usage: same_results_check.sh IMAGE_FOLDER HOST_PROGRAM}
host=${2:?usage: same_results_check.sh IMAGE_FOLDER HOST_PROGRAM}

code=0
on_mcu=$(bash "$here/run_image.sh" "$images/scenario.elf") || code=$?
[ "$code" -eq 0 ] || { echo "$on_mcu"; exit "$code"; }
on_host=$("$host")
echo "$on_host"
parts=$(grep -c 'checksum' <<<"$on_host")
if [ "$parts" -lt 10 ] || ! grep -q ': running,' <<<"$on_host"; then
  echo "the host told $parts parts: too short a story to compare"
  exit 1
fi
diff <(echo "$on_host") <(echo "$on_mcu") && echo "same on the microcontroller"
