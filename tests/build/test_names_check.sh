#!/usr/bin/env bash
# Every name and parameter of a test can be read: no raw bytes, no addresses, no bare numbers in
# place of a name.   test_names_check.sh TEST_PROGRAM...
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
[ $# -gt 0 ] || { echo "usage: test_names_check.sh TEST_PROGRAM..." >&2; exit 1; }

# check_names PROGRAM LIST: LIST as --gtest_list_tests prints it.
check_names() {
  local line
  while IFS= read -r line; do
    violation "$1: $line"
  done < <(LC_ALL=C grep -nE -- '-byte object <|0x[0-9a-f]{4,}|[^ -~]|^  [A-Za-z_0-9]+/[0-9]+( |$)' "$2" || true)
}

scratch_folder
printf '%s\n' 'Suite.' '  Reads' 'All/Suite.' '  Case/first  # GetParam() = first' >"$scratch/good"
printf '%s\n' 'All/Suite.' '  Case/a  # GetParam() = 4-byte object <01-00 00-00>' \
  '  Case/b  # GetParam() = 0x55d0c0ffee00 pointing to "b"' '  Case/0  # GetParam() = 7' \
  $'  Case/c  # GetParam() = \x01' >"$scratch/bad"
check_names planted "$scratch/good"
check_names planted "$scratch/bad"
expect_planted 4

tests=0
for program in "$@"; do
  "$program" --gtest_list_tests >"$scratch/list"
  tests=$((tests + $(grep -c '^  ' "$scratch/list")))
  check_names "${program##*/}" "$scratch/list"
done
echo "names: $tests"
[ "$tests" -gt 10 ] || violation "only $tests tests listed"
conclude "names of tests can be read"
