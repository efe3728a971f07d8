# Reads GCC's call graphs (-fcallgraph-info=su, one .ci file a source) and prints the deepest stack
# of a function and all it calls:   awk -v from=SYMBOL -f stack_bound.awk *.ci
# Output: `stack_bound BYTES` and the path. Exit code 1 if a call cannot be bounded: recursion, a
# call through a pointer, a frame whose size is not constant, or no such function.

function fail(text) {
  print "stack_bound: " text > "/dev/stderr"
  failed = 1
  exit 1
}

# Depth below and including `name`; recursion shows as a name still open.
function depth(name,    k, d, deepest, list, n) {
  if (name in known) return known[name]
  if (name in open) fail("recursion through " name)
  if (name == "__indirect_call") fail("call through a pointer")
  if (name in unbounded) fail("frame of variable size in " name)
  open[name] = 1
  deepest = 0
  n = split(callees[name], list, " ")
  for (k = 1; k <= n; ++k) {
    d = depth(list[k])
    if (d > deepest) { deepest = d; below[name] = list[k] }
  }
  delete open[name]
  # Helpers of the compiler's own library carry no graph; they are leaves of a few words.
  if (!(name in bytes)) { external[name] = 1; bytes[name] = 64 }
  return known[name] = bytes[name] + deepest
}

/^node:/ {
  split($0, part, "\"")
  if (match($0, /[0-9]+ bytes \([a-z,]+\)/)) {
    size = substr($0, RSTART, RLENGTH)
    bytes[part[2]] = size + 0
    if (size !~ /\(static\)/) unbounded[part[2]] = 1
  }
}

/^edge:/ {
  split($0, part, "\"")
  callees[part[2]] = callees[part[2]] " " part[4]
}

END {
  if (failed) exit 1
  if (!(from in bytes)) fail("no function " from)
  total = depth(from)
  print "stack_bound " total
  for (at = from; at != ""; at = below[at]) printf "  %4d %s%s\n", bytes[at], at, (at in external) ? " (assumed)" : ""
}
