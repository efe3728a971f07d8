#!/usr/bin/env bash
# The committed dumps are, bit for bit, what the command makes from the scenarios now.
#   fixtures_check.sh BAREGLASS SOURCE_FOLDER
set -euo pipefail
bareglass=${1:?usage: fixtures_check.sh BAREGLASS SOURCE_FOLDER}
root=${2:?usage: fixtures_check.sh BAREGLASS SOURCE_FOLDER}

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
mkdir "$scratch/made" "$scratch/planted"

# differences COMMITTED MADE: names every dump that is in one folder only, or not the same in both.
differences() {
  local name
  for name in $(cd "$1" && ls -- *.frames) $(cd "$2" && ls -- *.frames); do
    cmp -s "$1/$name" "$2/$name" || echo "$name"
  done | sort -u
}

bash "$root/tests/support/make_fixtures.sh" "$bareglass" "$scratch/made"

# First that the check can see: one byte changed, one dump missing, one too many.
cp "$scratch/made"/*.frames "$scratch/planted"
printf '\x00' | dd of="$scratch/planted/bare-glass.frames" bs=1 seek=5000 conv=notrunc status=none
rm "$scratch/planted/wet-bezel.frames"
touch "$scratch/planted/stray.frames"
seen=$(differences "$scratch/planted" "$scratch/made" | tr '\n' ' ')
if [ "$seen" != "bare-glass.frames stray.frames wet-bezel.frames " ]; then
  echo "the check is blind: of three planted differences it sees '$seen'" >&2
  exit 1
fi

wrong=$(differences "$root/fixtures" "$scratch/made")
if [ -n "$wrong" ]; then
  echo "not what the scenarios make now (write them anew: bash tests/support/make_fixtures.sh $bareglass):" >&2
  echo "$wrong" >&2
  exit 1
fi
echo "$(find "$scratch/made" -name '*.frames' | wc -l) dumps are what their scenarios make"
