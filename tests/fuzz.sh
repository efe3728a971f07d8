#!/usr/bin/env bash
# Feeds every reader and the core with made-up input, looking for what breaks them.
#   tests/fuzz.sh MINUTES   all targets together, the time shared equally
#   tests/fuzz.sh --short   the same few runs every time, about half a minute once it is built
# Builds in build-fuzz/ and keeps there what it found to be worth trying again (corpus/). Prints runs
# and runs a second of each target; exit code 1 if one crashed, hung, leaked or took too much
# memory: the input is then kept in build-fuzz/found/, and the last lines say how to run it again.
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"

usage() {
  echo "tests/fuzz.sh: expected a number of minutes from 1 to 10000, or --short" >&2
  exit 2
}
[ $# -eq 1 ] || usage
case $1 in
  --short) minutes=0 ;;
  *[!0-9]* | '' | 0*) usage ;;
  *) minutes=$1 ;;
esac
if [ ${#minutes} -gt 5 ] || [ "$minutes" -gt 10000 ]; then usage; fi

# The newest clang++ that has libFuzzer.
find_clang() {
  local name
  for name in clang++ $(compgen -c clang++- | grep -E '^clang\+\+-[0-9]+$' | sort -rV | uniq); do
    command -v "$name" >/dev/null || continue
    echo 'extern "C" int LLVMFuzzerTestOneInput(const unsigned char*, unsigned long) { return 0; }' |
      "$name" -x c++ -fsanitize=fuzzer,address - -o /dev/null 2>/dev/null || continue
    echo "$name"
    return 0
  done
  return 1
}
clang=$(find_clang) || {
  echo "tests/fuzz.sh: no clang++ with libFuzzer here; install it with: bash tools/install-packages.sh fuzz" >&2
  exit 2
}

build="build-fuzz"
jobs=$(nproc)
# Optimised a little, with assertions: speed is runs, and a run that breaks none is worth more. A
# build type of its own, since a release optimises some libraries more than the compiler's time is
# worth here. Many files at a time, since most of the time of a build goes into reading headers.
cmake -S . -B "$build" -G Ninja -DCMAKE_CXX_COMPILER="$clang" -DCMAKE_BUILD_TYPE=Fuzz \
  -DCMAKE_CXX_FLAGS_FUZZ=-O1 -DBAREGLASS_FUZZ=ON -DBAREGLASS_WINDOW=OFF \
  -DCMAKE_UNITY_BUILD=ON -DCMAKE_UNITY_BUILD_BATCH_SIZE=26 >"$build.log" 2>&1 ||
  { cat "$build.log" >&2; exit 1; }
mv "$build.log" "$build/configured.txt"
targets=()
for source in tests/fuzz/*_fuzz.cpp; do
  targets+=("$(basename "$source" .cpp)")
done
[ ${#targets[@]} -gt 0 ] || { echo "tests/fuzz.sh: no targets in tests/fuzz" >&2; exit 1; }

cmake --build "$build" --parallel "$jobs" --target "${targets[@]}" >"$build/built.txt" 2>&1 || {
  tail -40 "$build/built.txt" >&2
  exit 1
}

# seed TARGET NAME OCTAL_BYTES FILE [BYTES]: the bytes that choose a reader, then the front of the file.
seed() {
  mkdir -p "$build/seeds/$1"
  # shellcheck disable=SC2059  # the bytes are the format
  { printf "$3"; head -c "${5:-8192}" "$4"; } >"$build/seeds/$1/$2"
}

make_seeds() {
  rm -rf "$build/seeds"
  local target file n=0
  for target in "${targets[@]}"; do
    mkdir -p "$build/seeds/$target"
    head -c 64 /dev/zero >"$build/seeds/$target/zeros"
  done
  for file in fixtures/*.frames; do
    seed capture_fuzz "frames-$(basename "$file")" '\000\000' "$file" 3000
    seed capture_fuzz "told-$(basename "$file")" '\007\000' "$file" 3000
  done
  printf '# rows: 2\n# cols: 2\n# frame_period_us: 8000\n# unit: a\\x0Ab\n# note: 5 words\n# contacts: 9 1,1,5,6,7\n# supply: t_us=1 millivolts=3700 docked=true\n# journal: t_us=1 code=4 row=1 col=1 value=5 limit=3\n# reference: 1,2,3,4\nt_us,v0,v1,v2,v3\n8000,1,2,3,4\n16000,1,2,3,4\n' >"$build/seeds/table.csv"
  seed capture_fuzz csv '\001\000' "$build/seeds/table.csv"
  seed capture_fuzz csv-lenient '\001\020' "$build/seeds/table.csv"
  { printf '\223NUMPY\001\000\106\000'
    printf "%-69s\n" "{'descr': '<u2', 'fortran_order': False, 'shape': (2, 2, 2), }"
    printf '1234567890123456'; } >"$build/seeds/array.npy"
  seed capture_fuzz npy '\002\002\000\000\037\100' "$build/seeds/array.npy"
  for n in 3 4 5 6; do
    seed capture_fuzz "touch-$n" "\\00$n\\003\\000\\003\\000\\003\\000\\000\\037\\100" "$build/seeds/table.csv"
  done
  # Tables: what is told of them is all that they leave open (order, touch, unit of time).
  printf 't_ms,R0C0,R0C1,R1C0,R1C1\n0,1,2,3,4\n20,5,6,7,8\n' >"$build/seeds/named.csv"
  printf 'Rows: 2\nCols: 2\n\n0;1,0;2,0;3,0;4,0\n20;5,0;6,0;7,0;8,0\n' >"$build/seeds/comma.csv"
  printf '# frame 1 t=20 ms\n0x12 0x13\n0x14 0x15\n\n# frame 2 t=40 ms\n0x22 0x23\n0x24 0x25\n' >"$build/seeds/block.csv"
  printf 'Frame,2031-05-06T07:08:09.5Z,"1","-2"\nFrame,2031-05-06T07:08:09.6Z,"3","-4"\n' >"$build/seeds/quoted.csv"
  for table in named comma block quoted; do
    seed capture_fuzz "table-$table" '\007\114\000\007\000\000\001' "$build/seeds/$table.csv"
    seed capture_fuzz "table-trial-$table" '\217\120\002\000' "$build/seeds/$table.csv"
  done
  rm "$build"/seeds/{table,named,comma,block,quoted}.csv "$build/seeds/array.npy"
  seed toml_fuzz panel '\002' fixtures/panels/bars_and_stripes_1_1.toml
  seed toml_fuzz diamonds '\002' fixtures/panels/diamond_1_1.toml
  for file in fixtures/scenarios/*.toml; do
    seed toml_fuzz "scenario-$(basename "$file")" '\003' "$file" 20000
    seed toml_fuzz "alone-$(basename "$file")" '\010' "$file" 20000
  done
  for file in sim/view/lessons/*.toml; do
    seed toml_fuzz "lesson-$(basename "$file")" '\004' "$file" 20000
  done
  seed toml_fuzz steps '\005' lib/host/advise/data/next_steps.toml 60000
  seed toml_fuzz reference '\006' sim/panel/data/field_reference.toml 60000
  printf '[panel]\nrows = 8\nfinger_counts = 3500\n[contacts]\ntouch_on_permille = 300\n[start]\npolicy = "wait"\n[accept]\nmax_noise_percent = 2.5\nbare_glass = true\n' >"$build/seeds/settings"
  seed toml_fuzz settings '\000' "$build/seeds/settings"
  printf '[plan]\nname = "p"\nreach_mm = 8\nline_against = "fitted"\n[limits]\ndropped = 0\naccuracy_p95_mm = 1.5\n[[step]]\nname = "a"\npoint_mm = [5, 5]\nfrom_s = 1\nuntil_s = 2\n[[step]]\nname = "b"\nfrom_mm = [5, 5]\nto_mm = [20, 5]\nfrom_s = 3\nuntil_s = 4\n' >"$build/seeds/plan"
  seed toml_fuzz plan '\001' "$build/seeds/plan"
  printf 'width = 1280\nheight = 800\nlayer = "raw"\nrecent = ["/a", "/b"]\n' >"$build/seeds/memory"
  seed toml_fuzz memory '\007' "$build/seeds/memory"
  printf 'unit,ward,date,taped,dump\nbay-1,"North, upper",2026-03-02,yes,a.frames\nbay-2,South,2024-02-29,unknown,\n' >"$build/seeds/units"
  seed lists_fuzz units '\000' "$build/seeds/units"
  rm "$build/seeds/settings" "$build/seeds/plan" "$build/seeds/memory" "$build/seeds/units"
  seed lists_fuzz kernels '\001' fixtures/panels/bars_and_stripes_0_7.kernels 60000
  # Without its own checksum: the target writes one.
  sed '$d' fixtures/panels/bars_and_stripes_0_7.kernels >"$build/seeds/lists_fuzz/kernels-signed.part"
  seed lists_fuzz kernels-signed '\002' "$build/seeds/lists_fuzz/kernels-signed.part" 60000
  rm "$build/seeds/lists_fuzz/kernels-signed.part"
}

# Runs of a target in the short round: as many as take some three seconds.
short_runs() {
  case $1 in
    answer_fuzz) echo 1500 ;;
    engine_fuzz) echo 3000 ;;
    toml_fuzz) echo 4000 ;;
    *) echo 20000 ;;
  esac
}

# run_target NAME: its output goes to a file of its own.
run_target() {
  local name=$1 corpus options
  mkdir -p "$build/found" "$build/output"
  options=(-print_final_stats=1 -timeout=10 -rss_limit_mb=2048 -artifact_prefix="$build/found/$name-")
  if [ "$minutes" -eq 0 ]; then
    # Always from the same place.
    corpus=$build/short/$name
    rm -rf "$corpus"
    options+=(-seed=1 -runs="$(short_runs "$name")" -max_len=4096)
  else
    corpus=$build/corpus/$name
    options+=(-max_total_time="$seconds" -max_len=8192)
  fi
  mkdir -p "$corpus"
  "$build/tests/fuzz/$name" "${options[@]}" "$corpus" "$build/seeds/$name" >"$build/output/$name.txt" 2>&1
}

# tell NAME: a line of the table; fails if the target did.
tell() {
  local output=$build/output/$1.txt
  awk -v name="$1" '
    /^stat::number_of_executed_units:/ {runs = $2}
    /^stat::average_exec_per_sec:/ {rate = $2}
    END {printf "%-16s %12s runs %8s a second\n", name, runs == "" ? "?" : runs, rate == "" ? "?" : rate}' "$output"
}

make_seeds
seconds=$((minutes * 60 * jobs / ${#targets[@]}))
[ "$seconds" -gt 0 ] || seconds=1
failed=()
running=()
# wait_for NAME PID
wait_for() {
  if wait "$2"; then
    tell "$1"
  else
    failed+=("$1")
    tell "$1"
  fi
}
for target in "${targets[@]}"; do
  if [ ${#running[@]} -ge "$jobs" ]; then
    # shellcheck disable=SC2086  # name and process
    wait_for ${running[0]}
    running=("${running[@]:1}")
  fi
  run_target "$target" &
  running+=("$target $!")
done
for pair in "${running[@]}"; do
  # shellcheck disable=SC2086
  wait_for $pair
done

for target in "${failed[@]}"; do
  echo
  echo "FAILED: $target"
  grep -vE '^(#[0-9]|INFO:|stat::|Dictionary)|NEW_FUNC' "$build/output/$target.txt" | tail -45
  echo "Run again: $build/tests/fuzz/$target \$(ls -t $build/found/$target-* | head -1)"
done
[ ${#failed[@]} -eq 0 ]
