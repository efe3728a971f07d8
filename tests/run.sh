#!/usr/bin/env bash
# Builds everything and runs every test, from a fresh Debian or Ubuntu machine on.
#   tests/run.sh           release build and tests, budgets, sanitizer build and tests of the core
#   tests/run.sh --quick   without the core's tests under sanitizers
#   tests/run.sh --all     with every full field solution solved anew, all random cases of the tests that
#                          judge the diagnosis, and everything in the sanitizer build: more than half
#                          an hour on two cores
# Builds in build/, build-fuzz/ and, with --all, build-sanitize/. Exit code 0 only if all of it passed.
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"

sanitize=yes
for argument in "$@"; do
  case $argument in
    --quick) sanitize=no ;;
    --all) sanitize=all ;;
    *)
      echo "tests/run.sh: unknown argument '$argument'; expected --quick, --all or nothing" >&2
      exit 2
      ;;
  esac
done

jobs=$(nproc)
step() { printf '\n== %s\n' "$*"; }

# spent STEP: adds what the script's children took of the processors since the last call, which does
# not depend on what else the machine does.
spent_before=0
spent_lines=
spent() {
  times >"$spent_file" # in this shell: a subshell has children of its own
  local now
  now=$(awk 'NR == 2 { for (f = 1; f <= 2; ++f) { split($f, t, /[ms]/); sum += 60 * t[1] + t[2] } }
    END { printf "%d", sum }' "$spent_file")
  spent_lines+=$(printf '%6d s  %s' $((now - spent_before)) "$1")$'\n'
  spent_before=$now
}
spent_file=$(mktemp)
trap 'rm -f "$spent_file"' EXIT

# build FOLDER CMAKE_OPTIONS...; many files at a time, since most of the time of a build from nothing
# goes into reading headers.
build() {
  local folder=$1
  shift
  cmake -S . -B "$folder" -G Ninja -DCMAKE_UNITY_BUILD=ON -DCMAKE_UNITY_BUILD_BATCH_SIZE=13 "$@" &&
    cmake --build "$folder" --parallel "$jobs"
}

# run_tests FOLDER CTEST_OPTIONS...; keeps the output so that its summary can be shown at the end.
run_tests() {
  local folder=$1
  shift
  ctest --test-dir "$folder" --output-on-failure --no-tests=error --parallel "$jobs" "$@" 2>&1 |
    tee "$folder/ctest-output.txt"
}

# ctest's own last lines, again.
summary() {
  step "$1"
  sed -n '/tests passed/,$p' "$2/ctest-output.txt"
}

# Tests with sanitized code are slow: the heavy field solutions stay with the release build, and the
# promises of the build are about the plain build. Unless all of it is wanted, only the core, which
# runs in the device, is tested a second time; the fuzz targets' build has sanitizers and its library.
run_sanitized() {
  step "Address and undefined-behaviour sanitizers"
  if [ "$sanitize" = all ]; then
    build build-sanitize -DCMAKE_BUILD_TYPE=RelWithDebInfo -DBAREGLASS_SANITIZE=ON &&
      run_tests build-sanitize --exclude-regex 'field_full|panel_full|^build\.|^score\.'
  else
    cmake --build build-fuzz --parallel "$jobs" --target test_core &&
      run_tests build-fuzz --tests-regex '^core\.'
  fi
}

step "Packages"
bash tools/install-packages.sh build test bench mcu fuzz

step "Release build"
build build -DCMAKE_BUILD_TYPE=Release -DBAREGLASS_BENCHMARKS=ON
spent "release build"

failed=0
step "Tests"
if [ "$sanitize" = all ]; then
  rm -rf build/solutions
  export BAREGLASS_SOLVE_ANEW=1 BAREGLASS_ALL=1
  run_tests build --build-config All || failed=1
else
  run_tests build || failed=1
fi
spent "tests"

step "Readers and core on made-up input"
bash tests/fuzz.sh --short || failed=1
spent "fuzz targets, built and run briefly"

sanitized=build-fuzz
[ "$sanitize" != all ] || sanitized=build-sanitize
if [ "$sanitize" != no ]; then
  run_sanitized || failed=1
  spent "tests with sanitizers"
fi

step "Budgets (a line marked OVER is shown, not failed: the hard limits are tests)"
bash tools/budgets.sh build || [ $? -eq 2 ] || failed=1
spent "budgets"

step "Processor time"
printf '%s' "$spent_lines"
summary "Summary of the release build" build
[ "$sanitize" = no ] || summary "Summary of the tests with sanitizers" "$sanitized"
exit "$failed"
