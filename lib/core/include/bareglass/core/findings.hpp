#pragma once
// What lies on the glass, what is broken, and what reaches the panel by wire: numbers below 64 are
// surface kinds, 64.. line kinds, 128.. electrical kinds. All share one table and the journal.

#include <cstdint>

#include "bareglass/core/contacts.hpp"
#include "bareglass/core/journal.hpp"
#include "bareglass/core/regions.hpp"
#include "bareglass/core/settings.hpp"

namespace bareglass {

enum class FindingKind : std::uint8_t {
  none = 0,
  held_touch = 1,       ///< compact, finger sized, raw lowered: a finger or a grounded lump
  raised_plateau = 2,   ///< flat, raw raised: an isolated conductor, such as a damp note or a film
  lowered_plateau = 3,  ///< flat and wide, raw lowered: a conductor that reaches ground or a hand
  border_band = 4,      ///< raw lowered along a border, little depth: fluid at the bezel
  two_sign_conductor =
      5,           ///< raised and lowered side by side: an isolated conductor spanning lines
  unknown = 6,     ///< a region that fits none of these
  lone_node = 7,   ///< one node without a skirt: most likely a fault of it. At power-up the policy
                   ///< applies, as to a thing; later it keeps nothing off
  faint_film = 8,  ///< steady, wide, far below every limit: a dry film or residue; seen at a look
                   ///< against the factory reference, by averaging; keeps nothing off
  drops = 9,       ///< several small raised places apart from each other

  open_line = 64,          ///< one line reads nothing, all along
  cut_line = 65,           ///< from a crossing on a line reads nothing; several: a crack
  bridged_lines = 66,      ///< two neighbouring lines read the same, or twice as much
  raised_resistance = 67,  ///< one line reads low, almost equally all along
  tail_group = 68,         ///< neighbouring lines low or open together
  intermittent_line = 69,  ///< a line that comes and goes

  interference = 128,   ///< noise along touched columns
  common_mode = 129,    ///< whole rows swing from frame to frame
  weak_coupling = 130,  ///< a contact as wide as a finger, but far weaker
  supply_sag = 131,     ///< all nodes fall in proportion
};

/// Something on the glass (and `unknown`, `lone_node`); `none` is no kind.
constexpr bool is_surface_kind(FindingKind kind) {
  return kind != FindingKind::none && static_cast<std::uint8_t>(kind) < 64;
}
constexpr bool is_line_kind(FindingKind kind) {
  return static_cast<std::uint8_t>(kind) >= 64 && static_cast<std::uint8_t>(kind) < 128;
}
constexpr bool is_electrical_kind(FindingKind kind) {
  return static_cast<std::uint8_t>(kind) >= 128;
}
/// Whether Finding::measured and limit are permille rather than counts: of the bare reading for
/// line kinds and supply_sag, of the nominal finger signal for weak_coupling.
constexpr bool is_in_permille(FindingKind kind) {
  return is_line_kind(kind) || kind == FindingKind::weak_coupling ||
         kind == FindingKind::supply_sag;
}

/// Where a line finding is. Rows or columns first..last; a cut has the crossings where it is.
struct LinePlace {
  bool of_rows = false;
  std::uint8_t first = kNoLine, last = kNoLine;  ///< kNoLine: no line finding
  std::uint8_t at = kNoLine;       ///< cut_line: line `first` is cut between crossing at - 1 and at
  std::uint8_t at_last = kNoLine;  ///< likewise line `last`: a crack runs from one to the other
};

/// Static ASCII text such as "held touch".
const char* name_of(FindingKind kind);

struct Finding {
  FindingKind kind = FindingKind::none;
  bool confirmed = false;    ///< has stayed for Settings::surface_ms, or was there at power-up
  bool in_baseline = false;  ///< the baseline was taken with it on the glass (policy adopt)
  bool gone = false;         ///< no longer seen; kept until its place is needed
  Box box;
  std::uint8_t peak_row = 0, peak_col = 0;
  std::uint16_t nodes = 0;
  std::int16_t peak = 0;        ///< counts, signed as a difference, when last seen
  std::int16_t first_peak = 0;  ///< counts, when first seen: peak against first_peak is the trend
  std::int16_t mean = 0;        ///< counts, over its nodes
  std::int16_t opposite = 0;    ///< counts, peak of the other sign (two_sign_conductor only)
  std::uint64_t first_us = 0, last_us = 0;
  /// The value the kind was decided on and the limit it was held against, in counts or permille
  /// (is_in_permille). Counts are signed as a difference; permille of a line: positive is lost.
  /// bridged_lines: share of the two lines' own difference that is left. weak_coupling: signal.
  /// For these two it is the small value that tells.
  std::int16_t measured = 0;
  std::int16_t limit = 0;
  std::uint16_t confidence = 0;  ///< permille, how often such a finding is right; see DESIGN.md
  LinePlace lines;               ///< line kinds only
};

/// Whether a finding of this kind keeps input off while it lasts. Those that don't hold back what
/// stems from them, or change nothing but how strong a touch reads.
constexpr bool keeps_off(FindingKind kind) {
  switch (kind) {
    case FindingKind::none:
    case FindingKind::lone_node:
    case FindingKind::faint_film:
    case FindingKind::intermittent_line:
    case FindingKind::interference:
    case FindingKind::common_mode:
    case FindingKind::weak_coupling:
      return false;
    default:
      return true;
  }
}

/// How far a finding stands out, permille: 1000 * m/(m + 1/2) * z/(z + 2), with
/// m = |measured|/limit - 1/2, z = |measured|/sigma, both at most 100; times `against_permille` for
/// what speaks against it. sigma 0 is taken as no noise.
std::int32_t score_of(std::int32_t measured, std::int32_t limit, std::int32_t sigma,
                      std::int32_t against_permille);
/// The share of generated cases in which a finding of this kind and score (0..1000) was right,
/// permille.
std::uint16_t confidence_of(FindingKind kind, std::int32_t score);

struct LineFaults;

/// Kind of one region by sign, size, flatness and contact with the border.
/// Sizes come from the pitches in `settings`.
FindingKind kind_of(const Region& region, Shape shape, const Settings& settings,
                    const Limits& limits);

/// How long what a frame shows must last to be a finding, and when a finding is over.
struct Patience {
  std::uint64_t confirm_us = 0;  ///< what no hand can be; 0: at once
  std::uint64_t hand_us = 0;     ///< what a hand could be as well, and only if it lies still
  std::uint64_t gone_us = 0;     ///< a finding not seen for so long ends
  /// What looks like a touch is a contact then; it keeps a finding alive that was confirmed before,
  /// but never begins one. False during a look, when nobody may touch; a look sees the glass
  /// itself, so findings in the baseline are judged afresh.
  bool input_in_use = false;
};

/// The findings of now and of the recent past, in fixed memory. When it is full the weightier one
/// stays: what keeps input off before what does not, confirmed before unconfirmed, then the
/// stronger. What is lost is counted and journalled.
class FindingTable {
 public:
  static constexpr int kMaxFindings = 6;

  void reset() {
    count_ = 0;
    lost_ = overflow_ = overflow_run_ = 0;
  }
  /// What confidence is held against: noise of a difference, counts Q4, and what speaks against
  /// all findings of this look or frame, permille.
  void judge_by(std::int32_t sigma_q4, std::int32_t against_permille) {
    sigma_q4_ = sigma_q4;
    against_permille_ = against_permille;
  }
  View<const Finding> all() const { return {finding_, count_}; }
  /// Findings of the last frame or look that found no place.
  int overflow() const { return overflow_; }
  /// Nobody watched for a while: what is not confirmed yet begins anew.
  void drop_unconfirmed();

  /// Merges what one frame (or one look) shows. A region matches a finding of its kind whose box
  /// touches it. Confirmations and endings go to the journal.
  void update(Journal& journal, const RegionTable& regions, Shape shape, const Settings& settings,
              const Limits& limits, std::uint64_t t_us, const Patience& patience);

  /// The line faults of one frame or look, to be called before update(). A line that was whole for
  /// a while and is at fault again, twice, becomes an intermittent_line.
  void update_lines(Journal& journal, const LineFaults& faults, std::int32_t limit,
                    std::uint64_t t_us, std::uint64_t confirm_us, bool input_in_use);
  /// Something that its own stage has made sure of: confirmed at once, kept as any other.
  void observe(Journal& journal, const Finding& seen, std::int32_t limit);
  /// Enters a finding that came from elsewhere (a contact judged an object), confirmed.
  void add(Journal& journal, const Finding& finding, std::int32_t limit);

  /// Marks every confirmed present finding as taken into the baseline.
  void mark_in_baseline();
  /// Ends every finding whose kind or place no longer holds because a new baseline was taken.
  void end_all(Journal& journal, std::uint64_t t_us, std::int32_t limit);

  /// The present, confirmed finding that departs most, is not in the baseline and keeps input off;
  /// nullptr if none.
  const Finding* worst() const;
  /// The finding in the baseline that touches `box`; nullptr if none.
  const Finding* in_baseline_at(const Box& box) const;

 private:
  /// What one frame shows, and for how long it must have been seen before it is believed.
  struct Wait {
    std::uint64_t confirm_us;
    bool could_be_a_hand;  ///< counts only while it lies still
    bool input_in_use;
  };
  /// Where a finding has lain still, and since when.
  struct Stay {
    Box box;
    std::int16_t peak;
    std::uint64_t still_us;    ///< within a line and a quarter of its peak
    std::uint64_t no_hand_us;  ///< since when no hand could have made it
  };
  void see(Journal& journal, const Finding& seen, std::int32_t limit, const Wait& wait);
  bool has_stayed(Stay& stay, const Finding& f, const Wait& wait) const;
  void see_line(Journal& journal, const Finding& seen, std::int32_t limit, std::uint64_t confirm_us,
                bool input_in_use);
  bool is_return(std::size_t k, const Finding& seen) const;
  void see_again(const Finding& seen);
  void enter(Journal& journal, const Finding& fresh, std::int32_t limit);
  bool is_over(std::size_t k, std::uint64_t now_us) const;
  Finding* place_for_new(const Finding& seen);
  void lose(const Finding& f);
  void note_overflow(Journal& journal, std::uint64_t t_us);

  Finding finding_[kMaxFindings];
  Box before_[kMaxFindings];  ///< where each was before this frame: a film that breaks up stays one
                              ///< finding
  std::uint8_t away_[kMaxFindings];     ///< frames or looks in a row without it
  std::uint8_t returns_[kMaxFindings];  ///< how often a line has come back
  Stay stay_[kMaxFindings];
  std::uint8_t count_ = 0;
  std::uint8_t lost_ = 0;                      ///< of this frame, so far
  std::uint8_t overflow_ = 0;                  ///< of the frame before
  std::uint8_t overflow_run_ = 0;              ///< frames until a run of overflows is over
  FindingKind lost_kind_ = FindingKind::none;  ///< of the weightiest lost, and where it was
  std::uint8_t lost_row_ = 0, lost_col_ = 0;
  std::int32_t lost_weight_ = 0;
  std::int32_t sigma_q4_ = 0;
  std::int32_t against_permille_ = 1000;
};

}  // namespace bareglass
