#!/usr/bin/env bash
# Dependencies run one way: {core, plain} <- host <- {panel, view, tools}; plain <- field <- panel;
# nothing that ships depends on tests.   layering_check.sh SOURCE_FOLDER
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
root=${1:?usage: layering_check.sh SOURCE_FOLDER}

# includes FOLDER: "file:line: <header>" of every #include below FOLDER, with its quotes or brackets.
includes() {
  grep -rnE --include='*.hpp' --include='*.cpp' '^[[:space:]]*#[[:space:]]*include' "$1" |
    sed -nE "s~^([^:]+:[0-9]+):.*include[[:space:]]*([\"<][^\">]*[\">]).*~\1: \2~p"
}

# violations REASON: each line of standard input is one.
violations() {
  local hit
  while IFS= read -r hit; do violation "$hit ($1)"; done
}

# forbid FOLDER PATTERN REASON: no #include below FOLDER may match the extended regular expression.
forbid() {
  [ -d "$1" ] || return 0
  violations "$3" < <(includes "$1" | grep -E ": $2" || true)
}

# allow_only FOLDER PATTERN REASON: every #include below FOLDER must match.
allow_only() {
  [ -d "$1" ] || return 0
  violations "$3" < <(includes "$1" | grep -vE ": $2\$" || true)
}

# forbid_target FOLDER PATTERN: no CMake file below FOLDER may name a target that matches.
forbid_target() {
  local folder=$1 pattern=$2 hit
  [ -d "$folder" ] || return 0
  while IFS= read -r hit; do
    violation "$hit (links against its own user)"
  done < <(find "$folder" -name CMakeLists.txt -exec sed 's/#.*//' {} + |
    grep -nwE "bareglass_($pattern)" | sed "s~^~$folder: ~" || true)
}

check_layers() {
  local tree=$1 tests='["<]((tests|support|gtest|gmock|benchmark|bench|mcu)/|\.\./)'
  # A header without a folder is one of the core's own, beside its sources.
  allow_only "$tree/lib/core" '("bareglass/core/[^"]+"|"[a-z_]+\.hpp"|<(cstdint|cstddef|limits|type_traits)>)' \
    "the core knows itself and freestanding headers"
  forbid "$tree/lib/plain" '["<](bareglass/(core|host|field|panel|view)/|tools/|sim/)' "plain stands alone"
  forbid "$tree/lib/host" '["<](bareglass/(field|panel|view)/|tools/|sim/)' "host is below it"
  forbid "$tree/sim/field" '["<](bareglass/(core|host|panel|view)/|tools/)' "field stands alone"
  forbid "$tree/sim/panel" '["<](bareglass/view/|tools/)' "panel is below it"
  forbid "$tree/sim/view" '["<]tools/' "view is below it"
  forbid "$tree/sim/view/model" '["<](SDL|imgui|bareglass/view/(shell|page|theme|bench_page))' \
    "the model knows no window"
  forbid "$tree/lib" "$tests" "nothing that ships knows the tests"
  forbid "$tree/sim" "$tests" "nothing that ships knows the tests"
  forbid "$tree/tools" "$tests" "nothing that ships knows the tests"
  forbid_target "$tree/lib/core" 'plain|host|field|panel|view|test_support'
  forbid_target "$tree/lib/plain" 'core|host|field|panel|view|test_support'
  forbid_target "$tree/lib/host" 'field|panel|view|test_support'
  forbid_target "$tree/sim/field" 'core|host|panel|view|test_support'
  forbid_target "$tree/sim/panel" 'view|test_support'
  forbid_target "$tree/sim/view" 'test_support'
  forbid_target "$tree/tools" 'test_support'
}

plant() {
  mkdir -p "$scratch/$(dirname "$1")"
  printf '%s\n' "$2" >>"$scratch/$1"
}

scratch_folder
plant lib/core/src/a.cpp '#include <cstdint>'
plant lib/core/src/a.cpp '#include "bareglass/core/types.hpp"'
plant lib/core/src/a.cpp '#include <vector>'
plant lib/core/src/a.cpp '#  include "bareglass/host/text.hpp"'
plant lib/plain/src/i.cpp '#include "bareglass/host/text.hpp"'
plant lib/host/src/b.cpp '#include "bareglass/core/types.hpp"'
plant lib/host/src/b.cpp '#include "bareglass/panel/scene.hpp"'
plant sim/field/src/c.cpp '#include "bareglass/core/types.hpp"'
plant sim/panel/src/d.cpp '#include "bareglass/view/window.hpp"'
plant sim/view/src/e.cpp '#include "tools/command.hpp"'
plant sim/view/model/src/h.cpp '#include <SDL.h>'
plant tools/f.cpp '#include "support/matchers.hpp"'
plant sim/panel/src/g.cpp '#include <gtest/gtest.h>'
plant lib/core/CMakeLists.txt 'target_link_libraries(bareglass_core PRIVATE bareglass_host) # bareglass_view'
plant sim/field/CMakeLists.txt 'target_link_libraries(bareglass_field'
plant sim/field/CMakeLists.txt '  PRIVATE bareglass_panel)'
check_layers "$scratch"
expect_planted 12

check_layers "$root"
conclude "layers"
