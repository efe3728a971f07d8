#!/usr/bin/env bash
# Every public header is guarded, and compiles alone with the project's warnings. Of the core, whose
# build reads no precompiled headers, a source file that includes a header first has proved that
# already; all others are compiled here.
#   headers_check.sh COMPILER SOURCE_FOLDER [EXTRA FLAGS...]
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
here=$(dirname "${BASH_SOURCE[0]}")
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

# Reading the libraries' headers takes most of the time. A header that includes some of them itself, or
# through others of ours, finds those read already, which hides nothing from it that it does not include.
# Of these sets, which are read once, it gets the last that it includes all of.
readings=("string" "string vector" "string vector Eigen/Dense")

# read_once SET: says in `read_file` where it stands precompiled.
read_once() {
  local name
  read_file="$scratch/${1//[ \/]/_}.hpp"
  [ ! -e "$read_file.gch" ] || return 0
  for name in $1; do echo "#include <$name>"; done >"$read_file"
  # The same flags, or it would not be taken.
  "$compiler" "${flags[@]/-fsyntax-only/-O0}" -x c++-header "$read_file" -o "$read_file.gch"
}

# compiles SET HEADERS...: in this order, after what the set has read.
compiles() {
  local file="$scratch/headers.cpp" set=$1 read=() read_file
  shift
  printf '#include "%s"\n' "$@" >"$file"
  if [ -n "$set" ]; then
    read_once "$set"
    read=(-include "$read_file")
  fi
  "$compiler" "${flags[@]}" "${read[@]}" "$file"
}

# compile_wanted FOLDERS...: each of `wanted` as if alone; one of a chain that fails is looked for.
compile_wanted() {
  local set chain header
  printf '%s\n' "${wanted[@]}" >"$scratch/wanted"
  compiled=0
  while IFS=$'\t' read -r set chain; do
    compiled=$((compiled + 1))
    # shellcheck disable=SC2086  # a list of names
    ! compiles "$set" $chain || continue
    for header in $chain; do
      compiles "" "$header" || violation "$header does not compile alone"
    done
  done < <(grep -rE '^#include ' "$@" |
    awk -v readings="$(printf '%s;' "${readings[@]}")" -f "$here/header_chains.awk" "$scratch/wanted" - |
    sed "s/^\t/ \t/")
}

# The first include of every source file below these folders, which are compiled without precompiled
# headers: those would hide a missing include.
first_includes() {
  find "$@" -name '*.cpp' -exec awk 'FNR == 1 { seen = 0 } /^#include / && !seen { print $2; seen = 1 }' {} + |
    tr -d '<>"' | sort -u
}

# check INCLUDE_FOLDER SOURCE_FOLDERS...: its headers are guarded; adds them to `count`, and to `wanted`
# those that nothing proves to compile alone.
check() {
  local folder=$1 header name
  local -A first=()
  shift
  while IFS= read -r name; do first[$name]=1; done < <(first_includes "$@")
  while IFS= read -r header; do
    violation "$header has no #pragma once"
  done < <(grep -rLx --include='*.hpp' '#pragma once' "$folder" | sort)
  while IFS= read -r header; do
    name=${header#"$folder"/}
    count=$((count + 1))
    [ -n "${first[$name]-}" ] || wanted+=("$name")
  done < <(find "$folder" -name '*.hpp' | sort)
}

planted="$scratch/planted"
mkdir -p "$planted/include/planted" "$planted/src"
echo '#pragma once
inline std::int32_t uses_what_it_does_not_include() { return 0; }' >"$planted/include/planted/no_include.hpp"
printf '#pragma once\n#include <cstdint>\ninline std::int32_t zero() { return 0; }\n' >"$planted/include/planted/good.hpp"
printf '#include <cstdint>\ninline std::int32_t one() { return 1; }\n' >"$planted/include/planted/no_guard.hpp"
printf '#pragma once\n#include <string>\n#include <vector>\n' >"$planted/include/planted/reads_both.hpp"
printf '#pragma once\n#include <vector>\ninline auto size(const std::string& s) { return s.size(); }\n' \
  >"$planted/include/planted/no_string.hpp"
# Not the first include of its file, so nothing is proved about it.
printf '#include <cstdint>\n#include "planted/no_include.hpp"\n' >"$planted/src/second.cpp"
printf '#include "planted/no_guard.hpp"\n' >"$planted/src/first.cpp"
# Hidden from it by what comes before it in a chain, if that were more than it includes.
printf '#pragma once\n#include "planted/good.hpp"\ninline auto both() { return zero() + sizeof(std::string().size()); }\n' \
  >"$planted/include/planted/after_good.hpp"
flags+=("-I$planted/include")
count=0 wanted=()
check "$planted/include" "$planted/src"
compile_wanted "$planted/include" 2>/dev/null
expect_planted 4
[ "${#wanted[@]}" -eq 5 ] || violation "wanted ${#wanted[@]} of the 5 planted headers that no file includes first"
[ "$compiled" -eq 4 ] || violation "5 planted headers, of which one includes another, were compiled at $compiled times"

count=0 wanted=()
mkdir "$scratch/none"
for folder in "${folders[@]}"; do
  sources="$scratch/none"
  [ "$folder" != "$root/lib/core/include" ] || sources="$root/lib/core/src"
  check "$folder" "$sources"
done
compile_wanted "${folders[@]}"
grep -q precompile "$root/lib/core/CMakeLists.txt" &&
  violation "lib/core reads precompiled headers, which hide a missing include of its headers"
echo "headers: $count, of which compiled here: ${#wanted[@]}, in $compiled runs of the compiler"
[ "$count" -gt 10 ] || violation "only $count headers found below $root/lib and $root/sim"
conclude "headers compile alone"
