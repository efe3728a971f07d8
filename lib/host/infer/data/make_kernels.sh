#!/usr/bin/env bash
# Solves the panels whose kernels travel inside the program: bars and stripes under glass of several
# thicknesses, all else as in fixtures/panels/bars_and_stripes_1_1.toml.   make_kernels.sh BAREGLASS
set -euo pipefail
program=$(realpath "${1:?usage: make_kernels.sh BAREGLASS}")
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
panel=$here/../../../../fixtures/panels/bars_and_stripes_1_1.toml
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
cd "$scratch"
for t in 0.35 0.5 0.7 0.9 1.1 1.5 2.0 2.5 3.0 4.0 5.5; do
  sed "s/^thickness_mm = 1.1/thickness_mm = $t/; s/1\.1 mm cover/$t mm cover/" "$panel" >"glass_$t.toml"
  "$program" field "glass_$t.toml" --kernels "glass_$t.kernels" >/dev/null
  mv "glass_$t.kernels" "$here/"
done
