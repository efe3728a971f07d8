#!/usr/bin/env bash
# Installs the Debian or Ubuntu packages that a purpose needs and that are missing; asks for nothing
# if all are there.   install-packages.sh PURPOSE...
#   build   compile the libraries and the command
#   test    compile and run the tests, check format and scripts
#   bench   compile the benchmarks and their outside yardstick
#   mcu     compile the core for a Cortex-M3 and run it in an emulator
#   fuzz    made-up input for the readers and the core (tests/fuzz.sh)
#   lint    static analysis (cmake --build build --target tidy)
set -euo pipefail

packages_for() {
  case $1 in
    build) echo g++ make cmake ninja-build libboost-dev libboost-program-options-dev libfmt-dev \
      nlohmann-json3-dev libtomlplusplus-dev libpng-dev libeigen3-dev libsdl2-dev libimgui-dev \
      fonts-dejavu-core ;;
    test) echo libgtest-dev libgmock-dev binutils clang-format shellcheck xvfb xdotool imagemagick \
      chromium ;;
    bench) echo libbenchmark-dev libopencv-core-dev libopencv-imgproc-dev ;;
    mcu) echo gcc-arm-none-eabi libstdc++-arm-none-eabi-newlib qemu-system-arm ;;
    fuzz) echo clang libclang-rt-dev ;;
    lint) echo clang-tidy ;;
    *) echo "install-packages.sh: unknown purpose '$1'; expected build, test, bench, mcu, fuzz or lint" >&2
      return 1 ;;
  esac
}

is_installed() {
  [ "$(dpkg-query -W -f='${db:Status-Status}' "$1" 2>/dev/null)" = installed ]
}

# explain_and_stop REASON PACKAGE...
explain_and_stop() {
  echo "Missing packages: ${*:2}" >&2
  echo "$1" >&2
  exit 1
}

[ $# -gt 0 ] || { sed -n '2,/^set /{/^set /d;s/^# \{0,1\}//p}' "${BASH_SOURCE[0]}"; exit 1; }

wanted=()
for purpose in "$@"; do
  list=$(packages_for "$purpose")
  read -ra names <<<"$list"
  wanted+=("${names[@]}")
done

if ! command -v dpkg-query >/dev/null || ! command -v apt-get >/dev/null; then
  explain_and_stop "This script installs with apt-get, which is not here. Install what these \
Debian packages hold by other means, then build with cmake as DEVELOPERS.md says." "${wanted[@]}"
fi

missing=()
for name in "${wanted[@]}"; do
  is_installed "$name" || missing+=("$name")
done
[ ${#missing[@]} -gt 0 ] || exit 0

as_root=()
if [ "$(id -u)" -ne 0 ]; then
  command -v sudo >/dev/null || explain_and_stop \
    "Run this as root, or ask an administrator to install them." "${missing[@]}"
  as_root=(sudo)
fi

echo "Installing: ${missing[*]}"
export DEBIAN_FRONTEND=noninteractive
"${as_root[@]}" apt-get update -qq ||
  explain_and_stop "apt-get update failed; see above." "${missing[@]}"
"${as_root[@]}" apt-get install -y -qq --no-install-recommends "${missing[@]}" ||
  explain_and_stop "apt-get install failed; see above." "${missing[@]}"
