#!/usr/bin/env bash
# Solves every full field solution of the tests anew and keeps them in fixtures/solutions.txt, after a
# change of the solver's sources; some minutes.   keep_solutions.sh BUILD_FOLDER
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
build=$(cd "${1:?usage: keep_solutions.sh BUILD_FOLDER}" && pwd)

cmake --build "$build" --target test_field test_panel_model test_sim test_host test_core_scenarios test_view
sources=$(sed -n 's/.*kSolverSources\[\] = "\([0-9a-f]*\)".*/\1/p' "$build/tests/solver_sources.hpp")
[ ${#sources} -eq 64 ] || { echo "keep_solutions.sh: no hash in $build/tests/solver_sources.hpp" >&2; exit 1; }
rm -rf "$build/solutions"
# The test that holds the file against the sources fails until the file is written.
BAREGLASS_SOLVE_ANEW=1 ctest --test-dir "$build" --output-on-failure --parallel "$(nproc)" \
  --tests-regex '^(field|panel_model|sim|host|core_scenarios|view)\.' --exclude-regex 'ApprovedSolutions'

kept="$root/fixtures/solutions.txt"
{
  echo "# Results of the full field solutions that tests compare with: a problem's key (see"
  echo "# lib/field/include/bareglass/field/solution_store.hpp) and its numbers. Written by"
  echo "# tests/support/keep_solutions.sh; \"sources\" is the hash of the solver that found them."
  echo "sources $sources"
  find "$build/solutions/$sources" -maxdepth 1 -name '*.txt' -exec cat {} + | sort
} >"$kept.part"
mv "$kept.part" "$kept"
echo "$kept: $(grep -cv '^#\|^sources' "$kept") solutions"
