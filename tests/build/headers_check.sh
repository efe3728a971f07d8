#!/usr/bin/env bash
# Every public header compiles alone, and twice in one file, with the project's warnings.
#   headers_check.sh COMPILER SOURCE_FOLDER [EXTRA FLAGS...]
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
compiler=${1:?usage: headers_check.sh COMPILER SOURCE_FOLDER [EXTRA FLAGS...]}
root=${2:?usage: headers_check.sh COMPILER SOURCE_FOLDER [EXTRA FLAGS...]}
shift 2
flags=(-std=c++17 -fsyntax-only -Wall -Wextra -Wpedantic -Werror -Wshadow "$@")
for include in "$root"/lib/*/include "$root"/sim/*/include; do
  [ -d "$include" ] && flags+=("-I$include")
done

scratch_folder

# compiles_alone INCLUDE_NAME: exit code of the compiler, which sees the header twice.
compiles_alone() {
  local file="$scratch/${1//\//_}.cpp"
  printf '#include "%s"\n#include "%s"\n' "$1" "$1" >"$file"
  "$compiler" "${flags[@]}" "$file"
}

mkdir -p "$scratch/include/planted"
echo 'inline std::int32_t uses_what_it_does_not_include() { return 0; }' >"$scratch/include/planted/no_include.hpp"
printf '#pragma once\n#include <cstdint>\ninline std::int32_t zero() { return 0; }\n' >"$scratch/include/planted/good.hpp"
printf '#include <cstdint>\ninline std::int32_t one() { return 1; }\n' >"$scratch/include/planted/no_guard.hpp"
flags+=("-I$scratch/include")
for planted in no_include no_guard good; do
  compiles_alone "planted/$planted.hpp" 2>/dev/null || violation "$planted"
done
expect_planted 2

count=0
while IFS= read -r header; do
  count=$((count + 1))
  compiles_alone "${header#*/include/}" || violation "$header does not compile alone"
done < <(find "$root"/lib/*/include "$root"/sim/*/include -name '*.hpp' 2>/dev/null | sort)
echo "headers: $count"
[ "$count" -gt 10 ] || violation "only $count headers found below $root/lib and $root/sim"
conclude "headers compile alone"
