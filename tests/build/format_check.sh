#!/usr/bin/env bash
# C++ files are as clang-format writes them, and shell scripts pass shellcheck.
#   format_check.sh SOURCE_FOLDER
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
root=${1:?usage: format_check.sh SOURCE_FOLDER}

command -v shellcheck >/dev/null || skip "shellcheck is not installed"
command -v clang-format >/dev/null || skip "clang-format is not installed"
# Versions differ in small ways; .clang-format was written for this one.
clang-format --version | grep -q 'version 14\.' || skip "needs clang-format 14, found $(clang-format --version)"

# One process for all files; it names those that differ in its messages.
check_format() {
  local file
  while IFS= read -r file; do
    violation "$file"
  done < <(find "$1" -type f \( -name '*.hpp' -o -name '*.cpp' \) -print0 |
    xargs -0 -r clang-format --style="file:$root/.clang-format" --dry-run --Werror 2>&1 |
    sed -n -E 's/^(.*):[0-9]+:[0-9]+: error: .*/\1/p' | sort -u)
}

check_scripts() {
  local file
  while IFS= read -r file; do
    violation "$file"
  done < <(find "$1" -type f -name '*.sh' -print0 | xargs -0 -r shellcheck -x --format=gcc |
    tee "$scratch/shellcheck" | sed -E 's/:[0-9]+:[0-9]+: .*//' | sort -u)
  cat "$scratch/shellcheck"
}

scratch_folder
echo 'int  f( ) {return 1 ;}' >"$scratch/ugly.cpp"
printf 'int f() { return 1; }\n' >"$scratch/neat.cpp"
# shellcheck disable=SC2016  # the planted fault is an unquoted variable
printf '#!/bin/bash\nrm $1\n' >"$scratch/unquoted.sh"
check_format "$scratch"
check_scripts "$scratch" >/dev/null
expect_planted 2

for part in lib sim tools tests; do
  check_format "$root/$part"
  check_scripts "$root/$part"
done
conclude "format"
