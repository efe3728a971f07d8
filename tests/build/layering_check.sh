#!/usr/bin/env bash
# Dependencies run one way, as the data do; the table below says who may know whom. Nothing that ships
# depends on tests, and tests see what everybody sees.   layering_check.sh SOURCE_FOLDER
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
root=${1:?usage: layering_check.sh SOURCE_FOLDER}

# read_tree TREE: keeps its includes as "file:line: <header>", each with its quotes or brackets, and the
# lines of its CMake files as "file: text" without comments. Read once: a process for each question would
# take most of the time.
read_tree() {
  grep -rnE --include='*.hpp' --include='*.cpp' '^[[:space:]]*#[[:space:]]*include' \
    "$1"/{lib,sim,tools,tests} |
    sed -nE "s~^([^:]+:[0-9]+):.*include[[:space:]]*([\"<][^\">]*[\">]).*~\1: \2~p" >"$scratch/includes"
  find "$1"/{lib,sim,tools} -name CMakeLists.txt -exec awk '{ sub(/#.*/, ""); print FILENAME ": " $0 }' {} + \
    >"$scratch/cmake_lines"
}

# below FOLDER PATTERN FILE: lines of what was read that are below FOLDER and match.
below() {
  pattern=$2 awk -v folder="$1/" 'index($0, folder) == 1 && $0 ~ ENVIRON["pattern"]' "$scratch/$3"
}

# violations REASON: each line of standard input is one.
violations() {
  local hit
  while IFS= read -r hit; do violation "$hit ($1)"; done
}

# forbid FOLDER PATTERN REASON: no #include below FOLDER may match the extended regular expression.
forbid() { violations "$3" < <(below "$1" ": $2" includes); }

# allow_only FOLDER PATTERN REASON: every #include below FOLDER must match.
allow_only() { violations "$3" < <(below "$1" '' includes | grep -vE ": $2\$" || true); }

# forbid_target FOLDER PATTERN: no CMake file below FOLDER may name a target that matches.
forbid_target() {
  violations "links against what it may not know" < \
    <(below "$1" "[^A-Za-z0-9_]bareglass_($2)([^A-Za-z0-9_]|\$)" cmake_lines)
}

# Each folder of libraries, and which others it may know, by include or by link; itself always.
layers() {
  cat <<'TABLE'
lib/core
lib/plain
lib/capture          core plain
lib/field            plain
lib/panel_model      plain field
lib/host/statistics
lib/host/settings    core plain capture
lib/host/observe     core plain capture
lib/host/replay      core plain capture settings observe
lib/host/answer      core
lib/host/words       core plain capture settings observe replay answer
lib/host/infer       core plain capture settings observe replay answer words statistics field panel_model
lib/host/advise      core plain capture settings observe replay answer words infer
lib/host/present     core plain capture settings observe replay answer words
lib/host/compare     core plain capture settings observe replay answer words infer advise present statistics
lib/host/touch       core plain capture settings observe replay answer words statistics
lib/host/fleet       core plain capture settings observe replay answer words present statistics
sim/panel            core plain capture settings field panel_model
TABLE
}

table=$(layers)

# strangers FOLDER KNOWN...: in `others` all parts of the table but itself and those, "a|b|c"; view is one to all,
# `host`, which stands for all of lib/host, too.
strangers() {
  local folder=$1 part out=view\|view_model\|host
  shift
  while read -r part _; do
    part=${part##*/}
    [ "$part" = "${folder##*/}" ] || [[ " $* " == *" $part "* ]] || out+="|$part"
  done <<<"$table"
  others=$out
}

check_table() {
  local tree=$1 folder known others
  while read -r folder known; do
    # shellcheck disable=SC2086  # a list of words
    strangers "$folder" $known
    forbid "$tree/$folder" "[\"<](bareglass/($others)/|tools/|sim/)" "$folder may know: ${known:-nobody}"
    forbid_target "$tree/$folder" "$others|test_support"
  done <<<"$table"
}

# Rows on standard input: each knows only those above it, so nothing goes in circles.
check_order() {
  local folder known part above=" "
  while read -r folder known; do
    for part in $known; do
      [[ $above == *" $part "* ]] || violation "$folder knows $part, which is not above it in the table"
    done
    above+="${folder##*/} "
  done
}

# A library that the table leaves out would be held to nothing.
check_complete() {
  local file folder
  while IFS= read -r file; do
    folder=${file#"$1"/}
    folder=${folder%/CMakeLists.txt}
    [[ $'\n'"$table"$'\n' == *$'\n'"$folder"[$' \n']* ]] || violation "$folder is not in the table of layers"
  done < <(find "$1"/lib "$1"/sim -name CMakeLists.txt ! -path "$1/lib/host/CMakeLists.txt" \
    ! -path "$1/sim/CMakeLists.txt" ! -path "$1/sim/view/*" | sort)
}

check_layers() {
  local tree=$1 tests='["<]((tests|support|gtest|gmock|benchmark|bench|mcu)/|\.\./)'
  read_tree "$tree"
  # A header without a folder is one of the core's own, beside its sources.
  allow_only "$tree/lib/core" '("bareglass/core/[^"]+"|"[a-z_]+\.hpp"|<(cstdint|cstddef|limits|type_traits)>)' \
    "the core knows itself and freestanding headers"
  check_order < <(layers)
  check_table "$tree"
  check_complete "$tree"
  forbid "$tree/sim/view" '["<]tools/' "view is below it"
  forbid "$tree/sim/view/model" '["<](SDL|imgui|bareglass/view/(shell|page|theme|bench_page))' \
    "the model knows no window"
  forbid "$tree/lib" "$tests" "nothing that ships knows the tests"
  forbid "$tree/sim" "$tests" "nothing that ships knows the tests"
  forbid "$tree/tools" "$tests" "nothing that ships knows the tests"
  forbid_target "$tree/sim/view" 'test_support'
  forbid_target "$tree/tools" 'test_support'
  # The parts of infer have no headers for others; their tests look inside.
  violations "a test includes what is public" < <(below "$tree/tests" ': "(\.\./)+(lib|sim)/' includes |
    grep -v "^$tree/tests/host/infer/" || true)
}

plant() {
  mkdir -p "$scratch/$(dirname "$1")"
  printf '%s\n' "$2" >>"$scratch/$1"
}

scratch_folder
plant lib/core/src/a.cpp '#include <cstdint>'
plant lib/core/src/a.cpp '#include "bareglass/core/types.hpp"'
plant lib/core/src/a.cpp '#include <vector>'
plant lib/core/src/b.cpp '#  include "bareglass/words/text.hpp"' # not freestanding, and not below
# One upward include for each row of the table, beside one that is allowed.
plant lib/plain/src/a.cpp '#include "bareglass/capture/error.hpp"'
plant lib/capture/src/a.cpp '#include "bareglass/core/types.hpp"'
plant lib/capture/src/a.cpp '#include "bareglass/settings/settings_table.hpp"'
plant lib/field/src/a.cpp '#include "bareglass/core/types.hpp"'
plant lib/panel_model/src/a.cpp '#include "bareglass/field/axis.hpp"'
plant lib/panel_model/src/a.cpp '#include "bareglass/capture/error.hpp"'
plant lib/host/statistics/src/a.cpp '#include "bareglass/core/types.hpp"'
plant lib/host/settings/src/a.cpp '#include "bareglass/replay/account.hpp"'
plant lib/host/observe/src/a.cpp '#include "bareglass/replay/account.hpp"'
plant lib/host/replay/src/a.cpp '#include "bareglass/observe/survey.hpp"'
plant lib/host/replay/src/a.cpp '#include "bareglass/answer/diagnosis.hpp"'
plant lib/host/answer/src/a.cpp '#include "bareglass/replay/account.hpp"'
plant lib/host/words/src/a.cpp '#include "bareglass/infer/infer.hpp"'
plant lib/host/infer/src/a.cpp '#include "bareglass/panel_model/glass_model.hpp"'
plant lib/host/infer/src/a.cpp '#include "bareglass/panel/random.hpp"'
plant lib/host/advise/src/a.cpp '#include "bareglass/present/report.hpp"'
plant lib/host/present/src/a.cpp '#include "bareglass/infer/infer.hpp"'
plant lib/host/compare/src/a.cpp '#include "bareglass/advise/diagnose.hpp"'
plant lib/host/compare/src/a.cpp '#include "bareglass/fleet/fleet.hpp"'
plant lib/host/touch/src/a.cpp '#include "bareglass/present/report.hpp"'
plant lib/host/fleet/src/a.cpp '#include "bareglass/advise/diagnose.hpp"'
plant sim/panel/src/a.cpp '#include "bareglass/replay/replay.hpp"'
plant sim/view/src/a.cpp '#include "tools/command.hpp"'
plant sim/view/model/src/a.cpp '#include <SDL.h>'
plant tools/a.cpp '#include "support/matchers.hpp"'
plant sim/panel/src/b.cpp '#include <gtest/gtest.h>'
plant tests/host/words/a_test.cpp '#include "../../../lib/host/words/src/a.hpp"'
plant tests/host/infer/a_test.cpp '#include "../../../lib/host/infer/src/a.hpp"'
# The same by link.
plant lib/core/CMakeLists.txt 'target_link_libraries(bareglass_core PRIVATE bareglass_words) # bareglass_view'
plant lib/field/CMakeLists.txt 'target_link_libraries(bareglass_field'
plant lib/field/CMakeLists.txt '  PRIVATE bareglass_panel)'
plant lib/host/replay/CMakeLists.txt 'bareglass_host_part(replay PUBLIC bareglass_observe bareglass_host)'
plant lib/host/present/CMakeLists.txt 'bareglass_host_part(present PRIVATE bareglass_advise)'
plant lib/host/unheard_of/CMakeLists.txt 'bareglass_host_part(unheard_of)'
check_order < <(printf '%s\n' 'lib/a' 'lib/b a c' 'lib/c a')
check_layers "$scratch"
expect_planted 31

check_layers "$root"
conclude "layers"
