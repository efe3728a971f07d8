#!/usr/bin/env bash
# Small promises about the files themselves: no marks of unfinished work, every test file is built,
# every fixture is described.   conventions_check.sh SOURCE_FOLDER BUILD_FOLDER
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
root=${1:?usage: conventions_check.sh SOURCE_FOLDER BUILD_FOLDER}
build=${2:?usage: conventions_check.sh SOURCE_FOLDER BUILD_FOLDER}

# Written in pieces so that this file does not hold what it looks for.
marks="TO""DO|FIX""ME|XX""X|HA""CK"
disabled="DISA""BLED_"

# Text files of the product below a tree, git's own and build folders left out.
product_files() {
  local part
  for part in lib sim tools tests fixtures README.md DEVELOPERS.md CMakeLists.txt; do
    if [ -e "$1/$part" ]; then
      find "$1/$part" -type f \( -name '*.[ch]pp' -o -name '*.md' -o -name '*.sh' -o -name '*.txt' \
        -o -name '*.cmake' -o -name '*.toml' -o -name '*.awk' -o -name '*.ld' \)
    fi
  done
}

check_marks() {
  local hit
  while IFS= read -r hit; do
    violation "$hit"
  done < <(product_files "$1" | xargs -r grep -nwE "$marks|${disabled}[A-Za-z0-9_]*" /dev/null || true)
}

# check_registered TREE COMPILE_COMMANDS...: further files are lists of those compiled many at a time.
check_registered() {
  local tree=$1 file
  shift
  find "$tree/tests" -name '*_test.cpp' | sort >"$scratch/test_files"
  while IFS= read -r file; do
    violation "$file is compiled by no target"
  done < <(grep -ohFf "$scratch/test_files" "$@" | sort -u | comm -23 "$scratch/test_files" -)
}

# A fixture counts as described if fixtures/README.md names the file or, for a family, its folder.
check_fixtures() {
  local file name folder page=
  [ -d "$1/fixtures" ] || return 0
  [ ! -e "$1/fixtures/README.md" ] || page=$(<"$1/fixtures/README.md")
  while IFS= read -r file; do
    name=${file##*/}
    folder=${file%/*}
    folder=${folder##*/}
    if [ -z "$page" ]; then
      violation "$file: there is no fixtures/README.md to describe it"
    elif [[ $page != *"$name"* ]] && { [ "$folder" = fixtures ] || [[ $page != *"$folder/"* ]]; }; then
      violation "$file is not described in fixtures/README.md"
    fi
  done < <(find "$1/fixtures" -type f ! -name README.md | sort)
}

scratch_folder
mkdir -p "$scratch/lib" "$scratch/tests/core" "$scratch/fixtures/odd"
echo "// ${marks%%|*}: finish" >"$scratch/lib/a.cpp"
echo "TEST(A, ${disabled}case) {}" >"$scratch/tests/core/a_test.cpp"
touch "$scratch/tests/core/b_test.cpp" "$scratch/fixtures/known.csv" "$scratch/fixtures/stray.csv" \
  "$scratch/fixtures/odd/one.csv"
echo 'known.csv: seed 1' >"$scratch/fixtures/README.md"
echo "$scratch/tests/core/a_test.cpp" >"$scratch/commands"
check_marks "$scratch"
check_registered "$scratch" "$scratch/commands"
check_fixtures "$scratch"
expect_planted 5

check_marks "$root"
# Lists that the build made, but of those only what its commands name.
find "$build" -path '*/Unity/*' -name 'unity_*.cxx' | sort >"$scratch/lists"
mapfile -t together < <(grep -ohFf "$scratch/lists" "$build/compile_commands.json" | sort -u)
check_registered "$root" "$build/compile_commands.json" "${together[@]}"
check_fixtures "$root"
conclude "conventions"
