#!/usr/bin/env bash
# The core asks for no heap, exceptions, floating point, I/O or global state: its object code shows.
#   core_symbols_check.sh ARCHIVE TOOL_PREFIX COMPILER [COMPILER FLAGS...]
# TOOL_PREFIX is put before nm and objdump: arm-none-eabi- for the microcontroller, - for none.
# shellcheck source-path=SCRIPTDIR
. "$(dirname "${BASH_SOURCE[0]}")/check.sh"
usage="usage: core_symbols_check.sh ARCHIVE TOOL_PREFIX COMPILER [FLAGS...]"
archive=${1:?$usage}
prefix=${2:?$usage}
[ "$prefix" != - ] || prefix=""
compiler=${3:?$usage}
shift 3
nm="${prefix}nm"
objdump="${prefix}objdump"
[ -e "$archive" ] || skip "$archive was not built"
command -v "$nm" >/dev/null || skip "$nm is not installed"

# What freestanding code may ask of its compiler: block moves, integer division of 64 bits, the
# empty unwinding tables of the Arm ABI.
allowed='^(mem(cpy|set|move|cmp)|_GLOBAL_OFFSET_TABLE_|__aeabi_(mem(cpy|move|set|clr)[48]?|u?(i|l)div(mod)?|l(mul|lsl|lsr|asr)|ulcmp|lcmp|unwind_cpp_pr[01])|__stack_chk_(fail|guard))$'

# Symbols that OBJECTS ask for and none of them defines.
asked_for() {
  comm -23 <("$nm" -u "$1" | awk 'NF == 2 {print $2}' | sort -u) \
    <("$nm" --defined-only "$1" | awk 'NF == 3 {print $3}' | sort -u)
}

check_symbols() {
  local symbol
  while IFS= read -r symbol; do
    violation "$1 asks for '$symbol'"
  done < <(asked_for "$1" | grep -vE "$allowed" || true)
}

# Data that can change: sections .data and .bss. (.data.rel.ro holds constant tables of addresses,
# which only the loader of a relocatable program writes.)
check_state() {
  local symbol
  while IFS= read -r symbol; do
    violation "$1 holds global state: $symbol"
  done < <("$objdump" -t "$1" | awk '{
      for (k = 2; k < NF; ++k)
        if ($k ~ /^\.(data|bss|tdata|tbss)/ && $k !~ /^\.data\.rel\.ro/ && $NF !~ /^\./) print $NF
    }')
}

# Instructions on float or double, of the x86 vector and x87 units; on a target without a
# floating-point unit the compiler calls helpers instead, which check_symbols sees.
check_float() {
  local line
  while IFS= read -r line; do
    violation "$1 computes in floating point: $line"
  done < <("$objdump" -d --no-show-raw-insn "$1" | awk -F'\t' 'NF >= 2 {print $2}' |
    grep -E '^(v?(add|sub|mul|div|sqrt|rsqrt|rcp|min|max|u?comi|round|hadd|hsub|addsub|dp)(ss|sd|ps|pd)|v?cvt[a-z0-9]+|f(ld|i?add|i?mul|i?sub|i?div|ild|i?st)[a-z0-9]*)([[:space:]]|$)' |
    sort | uniq -c | head -20)
}

check_all() {
  check_symbols "$1"
  check_state "$1"
  check_float "$1"
}

scratch_folder

# plant NAME CODE: an object with one fault; the check must find at least one violation in it.
plant() {
  local before=$violations
  printf '%s\n' "$2" >"$scratch/$1.cpp"
  "$compiler" "${@:3}" -std=c++17 -O1 -c "$scratch/$1.cpp" -o "$scratch/$1.o"
  check_all "$scratch/$1.o" >"$scratch/$1.log"
  if [ "$violations" -eq "$before" ]; then
    echo "planted fault '$1' was not seen: the check cannot be trusted"
    exit 1
  fi
  echo "seen: $1 ($(head -1 "$scratch/$1.log" | sed "s~$scratch/~~"))"
}
plant heap 'int* f() { return new int(3); }' "$@"
plant c_heap '#include <cstdlib>
void* f() { return std::malloc(9); }' "$@"
plant throws 'void f() { throw 1; }' "$@"
plant io '#include <cstdio>
void f() { std::puts("x"); }' "$@"
plant state 'int counter; int f() { return ++counter; }' "$@"
plant doubles 'double f(double a, double b) { return a * b; }' "$@"
plant floats 'float f(int a) { return static_cast<float>(a); }' "$@"
plant library_maths '#include <cmath>
double f(double a) { return std::sin(a); }' "$@"
violations=0

# A clean object must pass, and the archive must hold what it is named after.
printf 'int f(int a) { return a + 1; }\n' >"$scratch/clean.cpp"
"$compiler" "$@" -std=c++17 -O1 -c "$scratch/clean.cpp" -o "$scratch/clean.o"
check_all "$scratch/clean.o"
known=$("$nm" --defined-only --demangle "$archive" | grep -c 'T bareglass::Engine::step(' || true)
if [ "$known" -ne 1 ]; then
  violation "$archive does not define bareglass::Engine::step"
fi
members=$("$nm" --defined-only "$archive" 2>/dev/null | grep -c '\.o.*:$' || true)
[ "$members" -ge 10 ] || violation "$archive holds only $members objects"

check_all "$archive"
conclude "core symbols ($members objects)"
