#include "cannot_tell.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bareglass/words/text.hpp"

namespace bareglass::host {

namespace {

bool any(const std::vector<CauseFound>& causes, std::initializer_list<Cause> wanted) {
  return std::any_of(causes.begin(), causes.end(), [&](const CauseFound& c) {
    return std::find(wanted.begin(), wanted.end(), c.cause) != wanted.end();
  });
}

}  // namespace

std::vector<std::string> cannot_tell(const Account& a, const std::vector<CauseFound>& causes) {
  std::vector<std::string> out;
  if (a.kind == DumpKind::raw_midway)
    out.emplace_back(
        "The power-up is not in this dump: neither what lay on the glass then nor what the panel "
        "decided.");
  if (a.kind == DumpKind::differences_only) {
    out.emplace_back(
        "Only the device's own differences are in this dump: what its baseline took in at power-up "
        "is invisible, and so is the start-up decision.");
  } else if (!a.has_reference) {
    out.push_back(fmt::format(
        "There is no factory reference in this dump: the panel is held against its own "
        "smoothness instead, which can't see anything weaker than {} of a finger, nor "
        "a film over more than half of the glass, nor fluid along a whole border, nor anything in "
        "a corner of a large panel.",
        text::percent(limits_of(a.settings).smooth, a.settings)));
  }
  if (any(causes, {Cause::bare_glass}))
    out.emplace_back(
        "A dry note or dry tape may still be on the glass: it moves the signals too little to be "
        "seen, and does no harm by itself as long as it stays dry.");
  if (a.frames_saturated != 0)
    out.push_back(fmt::format(
        "{} of {} frames are spoiled: nodes stand at the converter's limits, which nothing on the "
        "glass can do. A broken line or a failing supply can; these frames were left out.",
        a.frames_saturated, a.frames));
  if (a.frames_backward != 0)
    out.push_back(fmt::format(
        "{} of {} frames are stamped before the frame before them; they were left out. A dump that "
        "was sorted or put together otherwise than it was recorded looks like that.",
        a.frames_backward, a.frames));
  if (a.frames_ahead != 0)
    out.push_back(fmt::format(
        "{} of {} frames are stamped more than {} s after the frame before them; they were left "
        "out.",
        a.frames_ahead, a.frames, kLongestStepUs / 1000000));
  if (a.stats.damaged_packets != 0 || a.stats.malformed_lines != 0 ||
      a.stats.source_damaged_packets != 0 || a.stats.source_malformed_lines != 0)
    out.emplace_back("Parts of the dump are damaged; what happened in them is unknown.");
  for (const std::string& assumption : a.assumptions) out.push_back(assumption);
  return out;
}

}  // namespace bareglass::host
