#pragma once
// What 100 % of a finger is. Every percentage that is told refers to it, so where it comes from is
// part of the answer.

#include <cstdint>
#include <optional>

#include "bareglass/capture/records.hpp"
#include "bareglass/core/settings.hpp"

namespace bareglass::host {

struct FingerScale {
  enum class Source {
    dump,          ///< its panel description
    option,        ///< ReplayOptions::finger_counts
    settings,      ///< the settings that were given
    bare_reading,  ///< a share of what a bare node reads
  };
  Source source = Source::dump;
  int counts = 0;         ///< 1..65535; the core takes 16..20000
  int bare_counts = 0;    ///< bare_reading: median over the nodes
  double share = 0.0;     ///< bare_reading: part of it that a finger takes
  bool of_panel = false;  ///< bare_reading: the share is that of a known panel
};
const char* name_of(FingerScale::Source source);

/// Part of a bare node's reading that an 8 mm earthed finger takes where nothing is known of the
/// panel: 175 of 1140 fF through 1.1 mm of glass. Through 0.7 mm it is 18 %, 2.0 mm 10 %, 3.0 mm
/// 7 % (sim/panel/data/field_reference.toml).
inline constexpr double kUsualFingerShare = 0.15;

/// What a replay may know of a finger besides the dump.
struct FingerHints {
  std::optional<int> counts;               ///< said outright
  std::optional<int> settings_counts;      ///< the settings' own
  std::optional<double> share_of_reading;  ///< the panel's, 0.01..0.9
};

/// The first that there is: said outright, the dump's description, the settings, a share of the
/// bare reading. That reading is the median of `reference` or, if it is empty, of the raw frame
/// `first`: no thing on the glass covers half of the nodes and moves them by more than a quarter of
/// a finger. A converter's offset counts as reading. None if `first` holds differences or the
/// reading is too low for a finger of 16 counts.
std::optional<FingerScale> finger_scale(const PanelDescription& panel, const FrameRecord& first,
                                        const std::vector<std::uint16_t>& reference,
                                        const FingerHints& hints);

}  // namespace bareglass::host
