#!/usr/bin/env bash
# Runs an image on QEMU's Cortex-M3 board:   run_image.sh IMAGE
# Prints what the image prints; exit code of the image, 77 (skip) without QEMU.
set -euo pipefail

image=${1:?usage: run_image.sh IMAGE}
if ! command -v qemu-system-arm >/dev/null; then
  echo "SKIP: qemu-system-arm is not installed (packages: tools/install-packages.sh mcu)"
  exit 77
fi
if [ ! -e "$image" ]; then
  echo "SKIP: $image was not built"
  exit 77
fi
# One instruction takes one nanosecond of the board's time, so its timers count instructions.
# The image's text comes out on standard error.
timeout 120 qemu-system-arm -M mps2-an385 -display none -monitor none -serial none \
  -semihosting-config enable=on,target=native -icount shift=0 -kernel "$image" </dev/null 2>&1
