#!/usr/bin/env bash
# stack_bound.awk adds up the deepest path and refuses what has no bound.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

node() { printf 'node: { title: "%s" label: "f()\\nfile.cpp:1:1\\n%s bytes (%s)" }\n' "$@"; }
edge() { printf 'edge: { sourcename: "%s" targetname: "%s" label: "file.cpp:2:2" }\n' "$@"; }
bound() { awk -v from=top -f "$here/stack_bound.awk" "$scratch/graph.ci" 2>&1; }
refuses() {
  if output=$(bound); then
    echo "accepted $1: $output"
    exit 1
  fi
  grep -q "$2" <<<"$output" || { echo "$1: expected '$2' in: $output"; exit 1; }
}

tree() { node top 16 static; node left 100 static; node right 40 static; node leaf 80 static
  edge top left; edge top right; edge right leaf; }
tree >"$scratch/graph.ci"
[ "$(bound | head -1)" = "stack_bound 136" ] || { echo "wrong sum: $(bound)"; exit 1; }
{ tree; edge leaf right; } >"$scratch/graph.ci"
refuses "mutual recursion" "recursion"
{ tree; edge left __indirect_call; } >"$scratch/graph.ci"
refuses "a call through a pointer" "pointer"
{ tree; node bag 8 dynamic; edge left bag; } >"$scratch/graph.ci"
refuses "a frame of variable size" "variable size"
node other 8 static >"$scratch/graph.ci"
refuses "a missing function" "no function"
echo "stack bound: sums and refuses as it should"
