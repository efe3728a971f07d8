#include "bareglass/capture/damage_note.hpp"

#include <algorithm>
#include <charconv>
#include <string_view>

namespace bareglass::host {

namespace {

constexpr std::string_view kDamageLead = "damage in the source: ";

struct Counted {
  std::string_view words;
  std::uint64_t CaptureStats::*now;
  std::uint64_t CaptureStats::*source;
};

constexpr Counted kCounted[] = {
    {" damaged packets", &CaptureStats::damaged_packets, &CaptureStats::source_damaged_packets},
    {" bytes lost", &CaptureStats::lost_bytes, &CaptureStats::source_lost_bytes},
    {" malformed lines", &CaptureStats::malformed_lines, &CaptureStats::source_malformed_lines},
    {" packets of unknown kind", &CaptureStats::unknown_kinds, &CaptureStats::source_unknown_kinds},
};

/// Counts come from anybody: they don't wrap.
void add_up(std::uint64_t& to, std::uint64_t count) {
  to = count > UINT64_MAX - to ? UINT64_MAX : to + count;
}

}  // namespace

std::optional<NoteRecord> damage_note(const CaptureStats& before, const CaptureStats& now,
                                      std::uint64_t t_us) {
  std::string list;
  for (const Counted& each : kCounted) {
    const std::uint64_t count = now.*each.now - before.*each.now;
    if (count > 0)
      list += (list.empty() ? "" : ", ") + std::to_string(count) + std::string(each.words);
  }
  if (list.empty()) return std::nullopt;
  return NoteRecord{t_us, std::string(kDamageLead) + list};
}

void take_damage_note(CaptureStats& stats, const NoteRecord& note) {
  std::string_view text = note.text;
  if (text.substr(0, kDamageLead.size()) != kDamageLead) return;
  text.remove_prefix(kDamageLead.size());
  while (!text.empty()) {
    const std::string_view part = text.substr(0, text.find(", "));
    std::uint64_t count = 0;
    const auto [end, error] = std::from_chars(part.data(), part.data() + part.size(), count);
    const std::string_view words = part.substr(static_cast<std::size_t>(end - part.data()));
    for (const Counted& each : kCounted)
      if (error == std::errc() && words == each.words) add_up(stats.*each.source, count);
    text.remove_prefix(std::min(text.size(), part.size() + 2));
  }
}

}  // namespace bareglass::host
