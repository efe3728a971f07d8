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

# Reading the libraries' headers takes most of the time. A header that includes some of them itself, or
# through others of ours, finds those read already, which hides nothing from it that it does not include.
# Of these sets, which are read once, it gets the last that it includes all of.
readings=("string" "string vector" "string vector memory" "string vector optional" "Eigen/Dense"
  "string vector Eigen/Dense")

# find_readings FOLDERS...: which set each header of theirs gets, in `reading_of`.
declare -A reading_of
find_readings() {
  local header set
  reading_of=()
  while IFS=$'\t' read -r header set; do
    reading_of[$header]=$set
  done < <(grep -rE '^#include ' "$@" | awk -v sets="$(printf '%s;' "${readings[@]}")" '
    function reads(name, wanted, key) {  # itself or through others of ours
      if ((name, wanted) in direct) return 1
      for (key in ours)
        if (index(key, name SUBSEP) == 1 && !(substr(key, length(name) + 2) in seen)) {
          seen[substr(key, length(name) + 2)]
          if (reads(substr(key, length(name) + 2), wanted)) return 1
        }
      return 0
    }
    { file = $0; sub(/:#include .*/, "", file); sub(/.*\/include\//, "", file); headers[file]
      read = $0; sub(/.*:#include ./, "", read); sub(/[">].*/, "", read)
      if ($0 ~ /:#include </) direct[file, read]; else ours[file, read] }
    END {
      count = split(sets, set, ";")
      for (file in headers)
        for (n = count; n >= 1; --n) {
          all = split(set[n], name, " ")
          for (k = 1; k <= all; ++k) {
            split("", seen)
            if (!reads(file, name[k])) break
          }
          if (all > 0 && k > all) { print file "\t" set[n]; break }
        }
    }')
}

# read_once SET: says in `read_file` where it stands precompiled.
read_once() {
  local name
  read_file="$scratch/${1//[ \/]/_}.hpp"
  [ ! -e "$read_file.gch" ] || return 0
  for name in $1; do echo "#include <$name>"; done >"$read_file"
  # The same flags, or it would not be taken.
  "$compiler" "${flags[@]/-fsyntax-only/-O0}" -x c++-header "$read_file" -o "$read_file.gch"
}

# compiles_alone INCLUDE_NAME
compiles_alone() {
  local file="$scratch/${1//\//_}.cpp" read=() read_file
  printf '#include "%s"\n' "$1" >"$file"
  if [ -n "${reading_of[$1]-}" ]; then
    read_once "${reading_of[$1]}"
    read=(-include "$read_file")
  fi
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
  local -A first=()
  shift
  while IFS= read -r name; do first[$name]=1; done < <(first_includes "$@")
  while IFS= read -r header; do
    violation "$header has no #pragma once"
  done < <(grep -rLx --include='*.hpp' '#pragma once' "$folder" | sort)
  while IFS= read -r header; do
    name=${header#"$folder"/}
    count=$((count + 1))
    [ -z "${first[$name]-}" ] || continue
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
printf '#pragma once\n#include <string>\n#include <vector>\n' >"$planted/include/planted/reads_both.hpp"
printf '#pragma once\n#include <vector>\ninline auto size(const std::string& s) { return s.size(); }\n' \
  >"$planted/include/planted/no_string.hpp"
# Not the first include of its file, so nothing is proved about it.
printf '#include <cstdint>\n#include "planted/no_include.hpp"\n' >"$planted/src/second.cpp"
printf '#include "planted/no_guard.hpp"\n' >"$planted/src/first.cpp"
find_readings "$planted/include"
flags+=("-I$planted/include")
count=0 compiled=0
check "$planted/include" "$planted/src" 2>/dev/null
expect_planted 3
[ "$compiled" -eq 4 ] || violation "compiled $compiled of the 4 planted headers that no file includes first"

count=0 compiled=0
mkdir "$scratch/none"
find_readings "${folders[@]}"
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
