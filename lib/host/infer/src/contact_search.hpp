#pragma once
// Contacts that stay where they are, window by window: how strong and how wide, since when, and
// whether they were put down.

#include <vector>

#include "contact_profile.hpp"
#include "earthed_contact.hpp"
#include "reading.hpp"

namespace bareglass::host {

/// Windows in a row in which the strongest contact stays where it is and as strong as it is.
struct ContactRun {
  std::size_t from = 0, to = 0;  ///< windows from..to - 1, all of them with the contact throughout
  std::vector<float> mean;       ///< their averaged map, counts
  ContactProfile contact;        ///< of the averaged map
  double ratio = -1;             ///< volume over that of an earthed contact of the same width
  bool too_wide = false;         ///< spreads further than an earthed contact of that volume
};

class ContactSearch {
 public:
  /// `finger_counts`: the panel's nominal finger.
  ContactSearch(const Reading& reading, int finger_counts);

  const EarthedProfile& profile() const { return profile_; }
  const ContactProfile& contact_in(std::size_t window) const { return looks_[window].contact; }

  std::vector<ContactRun> runs() const;

  /// The window after which a contact that stayed where it was grew much stronger without growing
  /// wider, and not because it was put down: the device was docked, or somebody took it in the
  /// hand. 0: no such window.
  std::size_t docked() const;

  /// Whether the contact was put on: a hand comes, a film lies. Nothing lay at its place in an
  /// earlier window, and nothing was taken away there.
  bool came(const ContactRun& run) const;

 private:
  using Map = std::vector<float>;

  /// The strongest contact of one window.
  struct Look {
    ContactProfile contact;
    bool rests = false;  ///< it neither came, went nor moved within the window
  };

  std::size_t first() const { return reading_.has_reference() ? 1 : 2; }
  Map map_of(std::size_t k) const;
  double noise_of(int frames) const;
  Look look_at(std::size_t k) const;
  double raised_elsewhere(const Map& map, const ContactProfile& c) const;
  bool are_ghosts(const Map& map, const ContactProfile& a) const;
  bool counts(std::size_t k) const;
  bool rests(const ContactProfile& c, std::size_t k, int reach = 1) const;
  bool is_same(const ContactProfile& a, const ContactProfile& b) const;
  bool is_bare(const ContactProfile& c, int reach, const Map& map) const;
  int take_base(ContactRun& run) const;
  void close(std::vector<ContactRun>& out, ContactRun& run) const;
  void judge(ContactRun& run) const;

  const Reading& reading_;
  double finger_;
  double noise_ = 0;  ///< of a node in one frame, shares of a finger
  EarthedProfile profile_;
  Map settled_;  ///< bare reading of each node over the typical one's
  std::vector<Look> looks_;
};

}  // namespace bareglass::host
