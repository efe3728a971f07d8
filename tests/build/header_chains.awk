# Which headers are compiled together, each as if it were alone: a header that comes after others which
# it includes itself, or through others, has found nothing that it does not include.
#   header_chains.awk -v readings="NAME NAME;NAME;..." WANTED INCLUDES
# WANTED: a header a line, as it is included. INCLUDES: "path/include/HEADER:#include <...>" lines of all
# of ours. Prints a line for each chain: the last of the readings (sets of libraries' headers) that its
# first header includes all of, a tab, the headers in their order.

FNR == NR { wanted[$0]; next }

{
  file = $0
  sub(/:#include .*/, "", file)
  sub(/.*\/include\//, "", file)
  name = $0
  sub(/.*:#include ./, "", name)
  sub(/[">].*/, "", name)
  if ($0 ~ /:#include </) libraries[file] = libraries[file] "\n" name
  else ours[file] = ours[file] "\n" name
}

# Fills read[file, name] with all that `file` includes, itself or through ours, and count[file].
function follow(file, from,    k, n, names) {
  n = split(libraries[from], names, "\n")
  for (k = 2; k <= n; ++k) read[file, names[k]]
  n = split(ours[from], names, "\n")
  for (k = 2; k <= n; ++k)
    if (!((file, names[k]) in read)) {
      read[file, names[k]]
      ++count[file]
      follow(file, names[k])
    }
}

function reading_of(file,    n, k, sets, names, all) {
  for (n = split(readings, sets, ";"); n >= 1; --n) {
    all = split(sets[n], names, " ")
    for (k = 1; k <= all && ((file, names[k]) in read); ++k) continue
    if (all > 0 && k > all) return sets[n]
  }
  return ""
}

END {
  for (file in wanted) {
    count[file] = 0
    follow(file, file)
    # Those that include least first.
    for (k = ++files; k > 1 && (count[order[k - 1]] > count[file] ||
         (count[order[k - 1]] == count[file] && order[k - 1] > file)); --k)
      order[k] = order[k - 1]
    order[k] = file
  }
  for (k = 1; k <= files; ++k) {
    best = 0
    for (c = 1; c <= chains; ++c)
      if (((order[k], last[c]) in read) && (!best || count[last[c]] > count[last[best]])) best = c
    if (!best) {
      best = ++chains
      chain[best] = reading_of(order[k]) "\t"
    }
    chain[best] = chain[best] order[k] " "
    last[best] = order[k]
  }
  for (c = 1; c <= chains; ++c) print chain[c]
}
