#!/usr/bin/env bash
# README.md, DEVELOPERS.md and CAPTURE.md tell the truth: the two commands exist, links and named files exist,
# and the shell blocks marked `sh run` run with the tool that was built.
#   docs_check.sh SOURCE_FOLDER TOOL
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
root=${1:?usage: docs_check.sh SOURCE_FOLDER TOOL}
tool=${2:?usage: docs_check.sh SOURCE_FOLDER TOOL}

# Scripts named in commands such as `bash tools/try.sh`.
check_commands() {
  local script
  while IFS= read -r script; do
    [ -e "$1/$script" ] || violation "$2 names the command 'bash $script', which does not exist"
  done < <(grep -oE '\bbash [A-Za-z0-9_./-]+\.sh' "$1/$2" | awk '{print $2}' | sort -u)
}

# [text](target) to files, without the web, and without the #section.
check_links() {
  local target
  while IFS= read -r target; do
    [ -e "$1/$target" ] || violation "$2 links to '$target', which does not exist"
  done < <(grep -oE '\]\([^)#]+' "$1/$2" | sed 's/^](//' | grep -vE '^[a-z]+://' | sort -u || true)
}

# `names` that look like files of this project: below one of its folders, no wildcard.
check_files() {
  local name quote='`'
  while IFS= read -r name; do
    [ -e "$1/$name" ] || violation "$2 names '$name', which does not exist"
  done < <(grep -oE "$quote(lib|sim|tools|tests|fixtures)/[A-Za-z0-9_./-]*$quote" "$1/$2" |
    tr -d "$quote" | sort -u || true)
}

# Every block that starts with ```sh run, as one script, in a folder that sees the fixtures only.
run_blocks() {
  local folder
  folder=$(mktemp -d -p "$scratch")
  ln -s "$1/fixtures" "$folder/fixtures"
  awk -v out="$folder/block" '
    /^```sh run$/ {inside = 1; ++n; next}
    /^```/ {inside = 0}
    inside {print > (out n ".sh")}' "$1/$2"
  local block
  blocks_run=0
  for block in "$folder"/block*.sh; do
    [ -e "$block" ] || continue
    blocks_run=$((blocks_run + 1))
    (cd "$folder" && PATH="$(dirname "$tool"):$PATH" bash -eu "$block" >"$block.log" 2>&1) || {
      sed 's/^/    /' "$block" "$block.log"
      violation "$2: shell block $(basename "$block" .sh) failed"
    }
  done
}

# Text blocks that follow <!-- part of FILE -->: each line stands in FILE. An answer begins with its
# dump, as named inside fixtures/; the documents name it from the folder above.
check_excerpts() {
  local file line
  while IFS=$'\t' read -r file line; do
    sed -E '1s|^([a-z0-9-]+\.frames )|fixtures/\1|' "$1/$file" | grep -xF -e "$line" >/dev/null ||
      violation "$2 shows a line that $file does not hold: $line"
  done < <(awk '
    /^<!-- part of .* -->$/ {file = $4; next}
    /^```/ {inside = file != "" && !inside; if (!inside) file = ""; next}
    inside && NF {print file "\t" $0}' "$1/$2")
}

check_all() {
  check_excerpts "$1" "$2"
  check_commands "$1" "$2"
  check_links "$1" "$2"
  check_files "$1" "$2"
  run_blocks "$1" "$2"
}

scratch_folder
mkdir -p "$scratch/planted/tests" "$scratch/planted/fixtures"
touch "$scratch/planted/tests/run.sh"
# shellcheck disable=SC2016  # backquotes are Markdown here
printf '%s\n' 'Use `bash tests/run.sh` or `bash tools/gone.sh`; see [page](gone.md), [this](README.md),' \
  '`tests/run.sh` and `lib/gone.hpp`.' '```sh run' 'true' '```' '```sh run' 'false' '```' \
  '<!-- part of tests/run.sh -->' '```text' 'a line that is not there' '```' \
  >"$scratch/planted/README.md"
check_all "$scratch/planted" README.md
[ "$blocks_run" -eq 2 ] || violation "only $blocks_run of 2 planted blocks were run"
expect_planted 5

for command in tools/try.sh tests/run.sh; do
  grep -qF "bash $command" "$root/README.md" || violation "README.md does not name 'bash $command'"
done
# What tools/try.sh builds is found by the blocks that follow.
# shellcheck disable=SC2016  # the line as it is pasted
grep -qxF 'export PATH="$PWD/build-try/tools:$PATH"' "$root/README.md" ||
  violation "README.md does not say how 'bareglass' is found after tools/try.sh"
grep -qF 'build-try/tools/bareglass' "$root/tools/try.sh" ||
  violation "tools/try.sh no longer builds build-try/tools/bareglass, which README.md names"
[ -x "$tool" ] || violation "the tool $tool was not built"
check_all "$root" README.md
[ "$blocks_run" -ge 1 ] || violation "README.md holds no runnable shell block"
check_all "$root" DEVELOPERS.md
check_all "$root" CAPTURE.md
conclude "documents"
