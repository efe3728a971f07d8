#!/usr/bin/env bash
# Builds the Cortex-M3 images of this folder:   build_images.sh OUTPUT_FOLDER
# Exit code 77 (skip) if the cross compiler is not installed.
set -euo pipefail

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
out=${1:?usage: build_images.sh OUTPUT_FOLDER}

if ! command -v arm-none-eabi-g++ >/dev/null; then
  echo "SKIP: arm-none-eabi-g++ is not installed (packages: tools/install-packages.sh mcu)"
  exit 77
fi
cmake -S "$here" -B "$out" -DCMAKE_TOOLCHAIN_FILE="$here/cortex_m3.cmake" \
  -DCMAKE_BUILD_TYPE=MinSizeRel >"$out.log" 2>&1 || { cat "$out.log"; exit 1; }
cmake --build "$out" --parallel 2 >"$out.log" 2>&1 || { cat "$out.log"; exit 1; }
arm-none-eabi-size "$out"/*.elf
