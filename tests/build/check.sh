# Shared by the checks of this folder; sourced. A check prints every violation and fails at the end.
# shellcheck shell=bash
set -euo pipefail

violations=0

# One violation: where it is and what was expected.
violation() {
  echo "VIOLATION: $*"
  violations=$((violations + 1))
}

# Ends the check; exit code 1 if anything was found.
conclude() {
  echo "$1: $violations violation(s)"
  [ "$violations" -eq 0 ]
}

# Leaves with the code that ctest reports as "skipped", saying why.
skip() {
  echo "SKIP: $*"
  exit 77
}

# A folder that is removed when the check ends.
scratch_folder() {
  scratch=$(mktemp -d)
  trap 'rm -rf "$scratch"' EXIT
}

# Proof that a check can see: after it ran over planted faults it must have found exactly this many.
expect_planted() {
  if [ "$violations" -ne "$1" ]; then
    echo "the check found $violations of $1 planted violations: it cannot be trusted"
    exit 1
  fi
  violations=0
  echo "planted violations found: $1 of $1"
}
