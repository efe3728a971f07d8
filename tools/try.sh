#!/usr/bin/env bash
# From a fresh Debian or Ubuntu machine to a first answer: installs what the build needs, builds the
# command and explains a recorded start-up, with a picture.
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"

picture=build-try/damp-note.png
command=(explain fixtures/damp-note-peeled.frames --picture "$picture")

bash tools/install-packages.sh build
cmake -S . -B build-try -G Ninja -DCMAKE_BUILD_TYPE=Release -DBAREGLASS_TESTS=OFF >build-try.log 2>&1 ||
  { cat build-try.log; exit 1; }
cmake --build build-try --target bareglass --parallel "$(nproc)"
mv build-try.log build-try/configure.log

printf '\n$ bareglass %s\n\n' "${command[*]}"
# A panel that refuses input is an answer, not a failure, whatever the exit code says of it.
code=0
build-try/tools/bareglass "${command[@]}" || code=$?
if [ ! -s "$picture" ]; then
  echo "try.sh: no picture was written to $picture (exit code $code)" >&2
  exit 1
fi
printf '\nPicture: %s\n' "$root/$picture"
printf 'The command is built: %s --help\n' "build-try/tools/bareglass"
