#include "bareglass/replay/finger_scale.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

constexpr int kLeast = 16;  // counts, of Settings::finger_counts

int median(std::vector<std::uint16_t> counts) {
  if (counts.empty()) return 0;
  const auto middle = counts.begin() + static_cast<std::ptrdiff_t>(counts.size() / 2);
  std::nth_element(counts.begin(), middle, counts.end());
  return *middle;
}

}  // namespace

const char* name_of(FingerScale::Source source) {
  switch (source) {
    case FingerScale::Source::dump:
      return "dump";
    case FingerScale::Source::option:
      return "option";
    case FingerScale::Source::settings:
      return "settings";
    case FingerScale::Source::bare_reading:
      return "bare_reading";
  }
  return "unknown";
}

std::optional<FingerScale> finger_scale(const PanelDescription& panel, const FrameRecord& first,
                                        const std::vector<std::uint16_t>& reference,
                                        const FingerHints& hints) {
  using Source = FingerScale::Source;
  FingerScale out;
  const auto said = [&](Source source, int counts) {
    out.source = source;
    out.counts = std::clamp(counts, 1, 65535);
    return out;
  };
  if (hints.counts) return said(Source::option, *hints.counts);
  if (panel.finger_counts > 0) return said(Source::dump, panel.finger_counts);
  if (hints.settings_counts) return said(Source::settings, *hints.settings_counts);
  if (first.kind != FrameKind::raw) return std::nullopt;
  out.bare_counts = median(reference.empty() ? first.raw : reference);
  out.of_panel = hints.share_of_reading.has_value();
  out.share = hints.share_of_reading.value_or(kUsualFingerShare);
  const int counts = static_cast<int>(std::lround(out.share * out.bare_counts));
  if (counts < kLeast) return std::nullopt;
  return said(Source::bare_reading, counts);
}

}  // namespace bareglass::host
