#pragma once
// Contacts: peaks of the difference, told apart, located between the nodes, and given an identity
// that lasts from touch to lift.

#include <cstdint>

#include "bareglass/core/regions.hpp"
#include "bareglass/core/settings.hpp"
#include "bareglass/core/types.hpp"

namespace bareglass {

constexpr int kMaxContacts = 10;

/// A peak of one frame, before it has an identity.
struct Peak {
  std::int16_t strength = 0;  ///< counts
  std::uint8_t row = 0, col = 0;
  std::uint8_t region = 0;  ///< index into RegionTable
  bool palm = false;        ///< larger than fingers are: see Settings::palm_mm2
  std::int16_t x_q8 = 0;    ///< columns, 1/256 pitch; 0 is the centre of column 0, from -128 on
  std::int16_t y_q8 = 0;    ///< rows, likewise
  std::uint16_t half_nodes = 0;  ///< nodes around it that reach half of it, nearer to it than to
                                 ///< the region's other peaks; times both pitches about its area
  std::uint16_t flat_nodes = 0;  ///< of these, nodes that reach three quarters of it
};

struct PeakList {
  static constexpr int kMaxPeaks = 2 * kMaxContacts;
  Peak peak[kMaxPeaks];
  std::uint8_t count = 0;
};

/// Fills `peaks` with the local maxima of at least `limits.touch_off`, strongest first, after
/// joining maxima of one region that no valley parts. A valley is where a section across the
/// straight line between the two, weighed 1-2-1 over neighbouring nodes (five alike from four lines
/// apart on), falls below Settings::saddle_permille of the section at the lower peak, by three
/// standard deviations of a node or more. `sigma_q4`: that deviation, counts Q4; 0: not known. A
/// region with a palm in it yields that one peak. Weaker peaks beyond kMaxPeaks are left out.
void find_peaks(PeakList& peaks, const RegionTable& regions, View<const std::uint8_t> label,
                View<const std::int16_t> difference, const Settings& settings, const Limits& limits,
                std::int32_t sigma_q4);

/// Sub-node position of a maximum at (row, col). A contact of up to two pitches between its half
/// heights: 3 × 3 centroid inside; on a border line, where the outer neighbour is missing, from the
/// ratio of the two inner lines of a Gaussian profile whose width is Settings::neighbour_permille
/// (x = 1/2 + log(d1/d0) / (2 log(1/n)), our derivation). A wider one: centroid of what exceeds an
/// eighth of the peak; where the border cuts it off, from its inner edge and its width the other
/// way. Between the two it is a mixture.
void locate(Peak& peak, View<const std::int16_t> difference, const Settings& settings);

/// One contact as a host sees it. Meaning of the fields follows the USB HID Usage Tables, digitizer
/// page: contact identifier (0x51) is constant while the tip is down and until the one report with
/// the tip up; tip switch (0x42); confidence (0x47) is false for what is not a deliberate touch.
struct Contact {
  std::uint8_t id = 0;
  bool tip = false;
  bool confidence = false;
  std::int16_t x_q8 = 0, y_q8 = 0;  ///< as in Peak
  std::int16_t strength = 0;        ///< counts
  std::uint64_t since_us = 0;       ///< when the tip went down
};

/// Gives peaks an identity over time. All memory inside; at most kMaxContacts at once.
class ContactTracker {
 public:
  /// Forgets everything; nothing is told of the contacts that were down.
  void reset();

  /// Takes the peaks of one frame. After the call contacts() lists every contact that is down and,
  /// once, every contact that was lifted by this frame (tip false, last position).
  void update(const PeakList& peaks, const Settings& settings, const Limits& limits,
              std::uint64_t t_us);

  /// Takes a frame that could not be read: a contact is missing in it, and is lifted after
  /// Settings::debounce_up such frames in a row. What is about to become one waits as long.
  void miss_frame(const Settings& settings);

  /// The frame before once more: contacts() lists what is down, and no lift a second time.
  void drop_lifted();

  /// Lifts everything at once, as when input goes off: contacts() then lists each with tip false.
  void lift_all();

  /// Lifts everything before the next frame: contacts() is empty, and whichever call comes next
  /// (but reset or drop_lifted) lists each with tip false, beside its own.
  void leave();
  /// Moves what lies off a panel of this shape onto its edge: a lift is told where the panel is.
  void clip(Shape shape);

  /// The same for the frame that update() has just taken: contacts that it reported as lifted stay
  /// listed beside those that are lifted now.
  void lift_reported();

  View<const Contact> contacts() const { return {report_, reported_}; }

  /// Standard deviation of a node's difference, counts Q4: what a contact's place and strength move
  /// by without anything having moved. To be called before update(); 0 until then.
  void expect_noise(std::int32_t sigma_q4) { sigma_q4_ = sigma_q4; }

  /// True if a contact of this frame has stood still with its tip down for `held_us` or longer;
  /// then `held` is that contact, otherwise it is left alone. Still: neither the averaged place
  /// (four frames) nor the averaged strength has moved by more than noise and
  /// Settings::held_jitter_q8 allow. A person's finger wanders and presses now more, now less.
  bool find_held(Contact& held, std::uint64_t t_us, std::uint64_t held_us) const;

  /// Whether a palm lies on the glass: no contact of this frame is a deliberate touch then.
  bool has_palm() const { return has_palm_; }
  /// How long palms have lain on the glass, still or not, us; 0 without one. Shorter absences than
  /// kPalmGapUs don't end it.
  std::uint64_t palm_lain_us() const { return has_palm_ ? palm_seen_us_ - palm_since_us_ : 0; }
  static constexpr std::uint64_t kPalmGapUs = 500000;

 private:
  enum class State : std::uint8_t { free, candidate, down, leaving };
  /// Where an averaged quantity has been since it stood still.
  struct Course {
    std::int32_t mean_q4 = 0;  ///< over some four frames
    std::int32_t least = 0, most = 0;

    void begin(std::int32_t value);
    void follow(std::int32_t value);
    std::int32_t range() const { return most - least; }
  };
  struct Slot {
    Contact contact;
    State state = State::free;
    std::uint8_t seen = 0;       ///< frames in a row while a candidate
    std::uint8_t missed = 0;     ///< frames in a row
    Course x, y, strength;       ///< 1/256 pitch and counts
    std::uint64_t still_us = 0;  ///< since when it stands still
  };

  /// The peak nearest to a slot and within reach; peak -1 if there is none.
  struct Nearest {
    std::int32_t distance_sq = 2147483647;  ///< (1/16 mm)²
    int peak = -1;
  };
  static Nearest nearest_to(const Slot& slot, const PeakList& peaks, const Settings& settings,
                            std::uint32_t used);
  void match(const PeakList& peaks, const Settings& settings, const Limits& limits,
             std::uint64_t t_us, std::uint32_t& used);
  void refresh(Slot& slot, const Peak& peak, const Settings& settings, std::uint64_t t_us);
  static void stand_still(Slot& slot, const Peak& peak, std::uint64_t t_us);
  bool has_moved(const Slot& slot, const Settings& settings) const;
  void watch_palms(const PeakList& peaks, std::uint64_t t_us);
  void begin(const Peak& peak, const Settings& settings, std::uint64_t t_us);
  void miss(Slot& slot, const Settings& settings);
  void lift(Slot& slot);
  void begin_report();
  void report_down();
  void report(const Contact& contact);
  int free_slot() const;

  Slot slot_[kMaxContacts];
  Contact report_[2 * kMaxContacts];
  std::uint64_t palm_since_us_ = 0, palm_seen_us_ = 0;
  std::int32_t sigma_q4_ = 0;
  std::uint16_t fresh_ = 0;  ///< bit k: contact k went down in this frame
  std::uint8_t reported_ = 0;
  bool has_palm_ = false;
};

}  // namespace bareglass
