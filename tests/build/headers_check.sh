#!/usr/bin/env bash
# Every public header is guarded, and compiles alone with the project's warnings. Of the core, whose
# build reads no precompiled headers, a source file that includes a header first has proved that
# already; all others are compiled here.
#   headers_check.sh COMPILER SOURCE_FOLDER [EXTRA FLAGS...]
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
compiler=${1:?usage: headers_check.sh COMPILER SOURCE_FOLDER [EXTRA FLAGS...]}
root=${2:?usage: headers_check.sh COMPILER SOURCE_FOLDER [EXTRA FLAGS...]}
shift 2
# Without sim/view/window: its headers need SDL, which not every build has.
folders=("$root"/lib/*/include "$root"/lib/host/*/include "$root"/sim/{panel,view/model}/include)
flags=(-std=c++17 -fsyntax-only -Wall -Wextra -Wpedantic -Werror -Wshadow "$@")
for folder in "${folders[@]}"; do
  flags+=("-I$folder")
done

scratch_folder

is_guarded() { grep -qx '#pragma once' "$1"; }

# Eigen takes longer to read than all else. Headers that include it themselves, or through one of
# ours, find it read already, which hides nothing from them that they don't include.
with_eigen() { grep -qxF "$1" "$scratch/eigen_users"; }

find_eigen_users() {
  local before=-1
  grep -rlE '^#include <Eigen/' "${folders[@]}" | sed 's|.*/include/||' >"$scratch/eigen_users" || true
  while [ "$before" -ne "$(wc -l <"$scratch/eigen_users")" ]; do
    before=$(wc -l <"$scratch/eigen_users")
    sed 's|.*|#include "&"|' "$scratch/eigen_users" >"$scratch/eigen_includes"
    grep -rlFf "$scratch/eigen_includes" "${folders[@]}" | sed 's|.*/include/||' >>"$scratch/eigen_users" || true
    sort -u -o "$scratch/eigen_users" "$scratch/eigen_users"
  done
  echo '#include <Eigen/Dense>' >"$scratch/eigen.hpp"
  # The same flags, or it would not be taken.
  "$compiler" "${flags[@]/-fsyntax-only/-O0}" -x c++-header "$scratch/eigen.hpp" -o "$scratch/eigen.hpp.gch"
}

# compiles_alone INCLUDE_NAME
compiles_alone() {
  local file="$scratch/${1//\//_}.cpp" read=()
  printf '#include "%s"\n' "$1" >"$file"
  ! with_eigen "$1" || read=(-include "$scratch/eigen.hpp")
  "$compiler" "${flags[@]}" "${read[@]}" "$file"
}

# The first include of every source file below these folders, which are compiled without precompiled
# headers: those would hide a missing include.
first_includes() {
  find "$@" -name '*.cpp' -exec awk 'FNR == 1 { seen = 0 } /^#include / && !seen { print $2; seen = 1 }' {} + |
    tr -d '<>"' | sort -u
}

# check INCLUDE_FOLDER SOURCE_FOLDERS...: adds to `count` and `compiled`.
check() {
  local folder=$1 header name
  shift
  first_includes "$@" >"$scratch/first"
  while IFS= read -r header; do
    name=${header#"$folder"/}
    count=$((count + 1))
    is_guarded "$header" || violation "$header has no #pragma once"
    grep -qxF "$name" "$scratch/first" && continue
    compiled=$((compiled + 1))
    compiles_alone "$name" || violation "$header does not compile alone"
  done < <(find "$folder" -name '*.hpp' | sort)
}

planted="$scratch/planted"
mkdir -p "$planted/include/planted" "$planted/src"
echo '#pragma once
inline std::int32_t uses_what_it_does_not_include() { return 0; }' >"$planted/include/planted/no_include.hpp"
printf '#pragma once\n#include <cstdint>\ninline std::int32_t zero() { return 0; }\n' >"$planted/include/planted/good.hpp"
printf '#include <cstdint>\ninline std::int32_t one() { return 1; }\n' >"$planted/include/planted/no_guard.hpp"
# Not the first include of its file, so nothing is proved about it.
printf '#include <cstdint>\n#include "planted/no_include.hpp"\n' >"$planted/src/second.cpp"
printf '#include "planted/no_guard.hpp"\n' >"$planted/src/first.cpp"
: >"$scratch/eigen_users"
flags+=("-I$planted/include")
count=0 compiled=0
check "$planted/include" "$planted/src" 2>/dev/null
expect_planted 2
[ "$compiled" -eq 2 ] || violation "compiled $compiled of the 2 planted headers that no file includes first"

count=0 compiled=0
mkdir "$scratch/none"
find_eigen_users
for folder in "${folders[@]}"; do
  sources="$scratch/none"
  [ "$folder" != "$root/lib/core/include" ] || sources="$root/lib/core/src"
  check "$folder" "$sources"
done
grep -q precompile "$root/lib/core/CMakeLists.txt" &&
  violation "lib/core reads precompiled headers, which hide a missing include of its headers"
echo "headers: $count, of which compiled here: $compiled"
[ "$count" -gt 10 ] || violation "only $count headers found below $root/lib and $root/sim"
conclude "headers compile alone"
