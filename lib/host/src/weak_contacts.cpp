// Contacts far weaker than their width allows: the device has no good way to earth.
//
// An earthed conductor takes from a node what it covers of the node's field, so signal and width of
// a round contact go together: a small fingertip is weak and narrow, a large one strong and wide.
// On a device with little capacitance to earth the conductor couples its rows to its columns,
// C_TF C_FR / (C_FF + C_b), which gives back most where the loss is greatest: weak, yet wide. Two
// such contacts raise the two nodes where the rows of one cross the columns of the other.

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "contact_profile.hpp"
#include "electrical_survey.hpp"

namespace bareglass::host {

namespace {

// A fingertip trembles by 0.2 mm at most (common practice, no source); 0.2 pitches are 1 mm.
constexpr double kStill = 0.2;
// Noise of a node under a contact that stays, over its signal: a trembling finger's. One that comes
// or goes within a window of twelve frames makes 20 %, one that moves on by a pitch 3 to 5 %.
constexpr double kTremble = 0.02;
// The noisiest of nine nodes by chance, twelve frames each.
constexpr double kNoisiest = 1.8;

// A finger that moves by a pitch in a window makes more noise than this, shares of a finger.
constexpr double kQuiet = 0.02;

// What no contact on a device with 4.5 pF to earth or less takes from a node, shares of a finger
// (tests/host/contact_profile_test.cpp computes it on four glasses).
constexpr double kMostPeak = 0.85;

// By how much a contact grows at least when the device finds its way to earth.
constexpr double kDocked = 1.2;

// Beyond these a line is faulty rather than slow.
constexpr float kLeastSettled = 0.3f;
constexpr float kMostSettled = 3.f;

using Map = std::vector<float>;

/// Windows in a row in which the strongest contact stays where it is and as strong as it is.
struct Run {
  std::size_t from = 0, to = 0;  ///< windows from..to - 1, all of them with the contact throughout
  Map mean;                      ///< their averaged map, counts
  ContactProfile contact;        ///< of the averaged map
  double ratio = -1;             ///< volume over that of an earthed contact of the same width
  double error = 0;              ///< its standard error
};

class Search {
 public:
  Search(const Reading& reading, const Account& account)
      : reading_(reading), finger_(std::max<int>(16, account.settings.finger_counts)) {
    const float level = std::max(1.f, quantile(reading.base(), 0.5));
    profile_ = earthed_profile(finger_ / static_cast<double>(level));
    settled_.reserve(reading.base().size());
    for (const float bare : reading.base())
      settled_.push_back(std::clamp(bare / level, kLeastSettled, kMostSettled));
    noise_ = static_cast<double>(reading.noise()) / finger_;
    looks_.resize(reading.windows());
    for (std::size_t k = first(); k < reading.windows(); ++k) looks_[k] = look_at(k);
  }

  const EarthedProfile& profile() const { return profile_; }
  const ContactProfile& contact_in(std::size_t window) const { return looks_[window].contact; }

  std::vector<Run> runs() const {
    std::vector<Run> out;
    Run now;
    for (std::size_t k = first(); k < reading_.windows(); ++k) {
      if (!counts(k)) {
        close(out, now);
        continue;
      }
      if (now.to > now.from && !is_same(looks_[k].contact, looks_[k - 1].contact)) close(out, now);
      if (now.to == now.from) now.from = k;
      now.to = k + 1;
    }
    close(out, now);
    return out;
  }

  /// Whether a contact that stayed where it was grew much stronger without growing wider, and not
  /// because it was put down: the device was docked, or somebody took it in the hand. Window 0: no.
  std::size_t docked() const {
    if (noise_ > kQuiet) return 0;
    for (std::size_t k = first(); k + 2 < looks_.size(); ++k) {
      const ContactProfile& weak = looks_[k].contact;
      const ContactProfile& next = looks_[k + 1].contact;
      if (!looks_[k].contact.has_width) continue;
      for (const std::size_t j : {k + 1, k + 2}) {
        const ContactProfile& full = looks_[j].contact;
        if (!looks_[j].rests || !is_stronger(full, weak)) continue;
        // A contact that is put down reaches its full strength by the next window.
        const bool twice = j == k + 2 && is_stronger(next, weak) && is_stronger(full, next);
        if (looks_[k].rests || twice) return k;
      }
    }
    return 0;
  }

  /// Whether nothing lay at the contact's place in an earlier window, and nothing was taken away
  /// there: a hand comes, a film lies.
  bool came(const Run& run) const {
    for (std::size_t k = first() - 1; k < run.from; ++k) {
      const Map map = map_of(k);
      if (std::abs(static_cast<double>(map[node(run)])) > 0.5 * run.contact.peak * finger_)
        continue;
      if (reading_.has_reference()) return true;
      // Without a reference what lay there from the start and is taken away looks put on; its
      // negative must stand out from the spread of manufacture, or there is no telling.
      double product = 0;
      double square = 0;
      const Map before = reading_.departure(k);
      for_patch(run, [&](std::size_t i) {
        product += static_cast<double>(before[i]) * static_cast<double>(run.mean[i]);
        square += static_cast<double>(run.mean[i]) * static_cast<double>(run.mean[i]);
      });
      return std::sqrt(square) > 5.0 * static_cast<double>(reading_.spread()) &&
             product > -0.5 * square;
    }
    return false;
  }

 private:
  std::size_t first() const { return reading_.has_reference() ? 1 : 2; }
  std::size_t node(const Run& run) const {
    return reading_.node_at(run.contact.row, run.contact.col);
  }

  template <typename Visit>
  void for_patch(const Run& run, const Visit& visit) const {
    const Shape shape = reading_.shape();
    const int row = run.contact.row;
    const int col = run.contact.col;
    for (int r = std::max(0, row - 2); r <= std::min(shape.rows - 1, row + 2); ++r)
      for (int c = std::max(0, col - 2); c <= std::min(shape.cols - 1, col + 2); ++c)
        visit(reading_.node_at(r, c));
  }

  /// Slow lines take as large a share of a contact as of the bare reading; the announced finger is
  /// that of a typical node.
  Map map_of(std::size_t k) const {
    Map map = reading_.has_reference() ? reading_.departure(k) : reading_.change(1, k);
    for (std::size_t i = 0; i < map.size(); ++i) map[i] /= settled_[i];
    return map;
  }
  double noise_of(std::size_t from, std::size_t to) const {
    int frames = 0;
    for (std::size_t k = from; k < to; ++k) frames += reading_.window(k).frames;
    return noise_ / std::sqrt(std::max(1, frames));
  }

  /// The strongest contact of one window.
  struct Look {
    ContactProfile contact;
    bool rests = false;  ///< it neither came, went nor moved within the window
  };

  Look look_at(std::size_t k) const {
    const Map map = map_of(k);
    const double noise = noise_of(k, k + 1);
    Look look;
    look.contact = strongest_contact(map, reading_.shape(), finger_, noise);
    const double peak = look.contact.peak;
    // A film or a streak raises more than a contact on a device without earth lowers, unless these
    // are the ghosts of two contacts.
    const double raised = -static_cast<double>(*std::min_element(map.begin(), map.end())) / finger_;
    const bool own =
        look.contact.two_signs && raised_elsewhere(map, look.contact) < 0.4 * peak * finger_;
    const bool plain = own || raised < 0.4 * peak || are_ghosts(map, look.contact);
    look.rests = peak > std::max(0.05, 6 * noise) && plain && rests(look.contact, k);
    return look;
  }

  /// Greatest rise outside the contact's own nodes, counts.
  double raised_elsewhere(const Map& map, const ContactProfile& c) const {
    const Shape shape = reading_.shape();
    double most = 0;
    for (int r = 0; r < shape.rows; ++r)
      for (int col = 0; col < shape.cols; ++col)
        if (std::abs(r - c.row) > 2 || std::abs(col - c.col) > 2)
          most = std::max(most, -static_cast<double>(map[reading_.node_at(r, col)]));
    return most;
  }

  /// Whether all that is raised lies where the rows of `a` cross the columns of a second contact or
  /// the reverse.
  bool are_ghosts(const Map& map, const ContactProfile& a) const {
    const Shape shape = reading_.shape();
    const auto value = [&](int r, int c) {
      return static_cast<double>(map[reading_.node_at(r, c)]) / finger_;
    };
    int row = -1;
    int col = -1;
    double second = 0.4 * a.peak;
    for (int r = 0; r < shape.rows; ++r)
      for (int c = 0; c < shape.cols; ++c)
        if (std::abs(r - a.row) > 3 && std::abs(c - a.col) > 3 && value(r, c) > second) {
          second = value(r, c);
          row = r;
          col = c;
        }
    if (row < 0) return false;
    const auto near = [](int p, int q) { return std::abs(p - q) <= 1; };
    for (int r = 0; r < shape.rows; ++r)
      for (int c = 0; c < shape.cols; ++c) {
        if (value(r, c) > -0.2 * a.peak) continue;
        const bool ghost = (near(r, a.row) && near(c, col)) || (near(r, row) && near(c, a.col));
        if (!ghost) return false;
      }
    return true;
  }

  /// Whether window k shows a contact that may be judged. One window alone must be quiet enough to
  /// tell resting from moving.
  bool counts(std::size_t k) const {
    const Look& look = looks_[k];
    if (!look.rests || look.contact.peak > kMostPeak) return false;
    // What came while the maps' base was taken is in it in part, and looks weak against it.
    if (!reading_.has_reference() && !rests(look.contact, 1)) return false;
    for (const std::size_t n : {k - 1, k + 1}) {
      if (n >= looks_.size() || looks_[n].contact.peak <= 0) continue;
      if (looks_[n].rests && is_same(looks_[n].contact, look.contact)) return true;
    }
    return noise_ < kQuiet;
  }

  /// Whether the contact neither came, went nor moved within window k.
  bool rests(const ContactProfile& c, std::size_t k) const {
    const Shape shape = reading_.shape();
    double noise = 0;
    for (int r = std::max(0, c.row - 1); r <= std::min(shape.rows - 1, c.row + 1); ++r)
      for (int col = std::max(0, c.col - 1); col <= std::min(shape.cols - 1, c.col + 1); ++col)
        noise = std::max(noise,
                         static_cast<double>(reading_.window(k).noise[reading_.node_at(r, col)]));
    return noise / finger_ < std::hypot(kTremble * std::max(c.peak, 0.3), kNoisiest * noise_);
  }

  bool is_same(const ContactProfile& a, const ContactProfile& b) const {
    return std::hypot(a.x - b.x, a.y - b.y) < kStill &&
           std::abs(a.volume - b.volume) < 0.12 * b.volume + 2 * noise_;
  }

  static bool is_stronger(const ContactProfile& a, const ContactProfile& b) {
    return a.has_width && a.alone && b.alone && b.peak > 0.05 && a.volume > kDocked * b.volume &&
           std::hypot(a.x - b.x, a.y - b.y) < kStill && std::abs(a.width - b.width) < 0.15;
  }

  void close(std::vector<Run>& out, Run& run) const {
    if (run.to > run.from) {
      judge(run);
      out.push_back(run);
    }
    run = {};
  }

  void judge(Run& run) const {
    Map& mean = run.mean;
    mean.assign(reading_.base().size(), 0.f);
    const auto windows = static_cast<double>(run.to - run.from);
    for (std::size_t k = run.from; k < run.to; ++k) {
      const Map map = map_of(k);
      for (std::size_t i = 0; i < mean.size(); ++i) mean[i] += map[i] / static_cast<float>(windows);
    }
    const double noise = noise_of(run.from, run.to) * (reading_.has_reference() ? 1.0 : 1.4);
    run.contact = strongest_contact(mean, reading_.shape(), finger_, noise);
    if (!run.contact.alone) return;
    run.ratio = profile_.ratio_of(run.contact);
    if (run.ratio >= 0) run.error = profile_.error_of(run.contact, noise);
  }

  const Reading& reading_;
  double finger_;
  double noise_ = 0;
  EarthedProfile profile_;
  Map settled_;  ///< bare reading of each node over the typical one's
  std::vector<Look> looks_;
};

Box box_of(const ContactProfile& c, Shape shape) {
  const auto line = [](int n, int count) {
    return static_cast<std::uint8_t>(std::clamp(n, 0, count - 1));
  };
  return {line(c.row - 1, shape.rows), line(c.row + 1, shape.rows), line(c.col - 1, shape.cols),
          line(c.col + 1, shape.cols)};
}

/// The core looks at single frames and at contacts near a node's middle only, but misses none that
/// is shorter than a window.
const FindingStory* weak_by_core(const Reading& reading, const Account& account) {
  const FindingStory* best = nullptr;
  for (const FindingStory& story : account.findings) {
    if (story.last.kind != FindingKind::weak_coupling) continue;
    if (reading.masked(reading.node_at(story.last.peak_row, story.last.peak_col))) continue;
    if (best == nullptr || story.last.measured < best->last.measured) best = &story;
  }
  return best;
}

}  // namespace

void find_weak_contacts(std::vector<ElectricalFound>& out, const Reading& reading,
                        const Account& account) {
  const Search search(reading, account);
  if (search.profile().limit <= 0) return;
  ElectricalFound f;
  f.cause = Cause::floating_ground;
  f.limit = search.profile().limit;
  double surest = 0;
  std::size_t windows = 0;
  const std::size_t docked = search.docked();
  for (const Run& run : search.runs()) {
    const double doubt = docked > 0 && run.from <= docked ? 0 : 2 * run.error;
    if (run.ratio < 0 || run.ratio + doubt > f.limit || !search.came(run)) continue;
    if (windows == 0) f.first_us = reading.window(run.from).first_us;
    f.last_us = reading.window(run.to - 1).last_us;
    f.value = std::max(f.value, run.contact.peak);
    const Box box = box_of(run.contact, reading.shape());
    f.box = f.has_box ? enclosing(f.box, box) : box;
    f.has_box = true;
    windows += run.to - run.from;
    surest = std::max(surest, (f.limit - run.ratio) / f.limit);
  }
  const FindingStory* core = weak_by_core(reading, account);
  if (windows == 0 && docked > 0) {
    const ContactProfile& weak = search.contact_in(docked);
    f.first_us = reading.window(docked).first_us;
    f.last_us = reading.window(docked).last_us;
    f.value = weak.peak;
    f.box = box_of(weak, reading.shape());
    f.has_box = true;
    f.score = 0.75;
  } else if (windows == 0) {
    if (core == nullptr) return;
    f.first_us = core->last.first_us;
    f.last_us = core->last.last_us;
    f.value = core->last.measured / 1000.0;
    f.box = core->widest;
    f.has_box = true;
    f.score = 0.75;
  } else {
    const double agreed = core == nullptr ? 0.0 : 0.1;
    f.score =
        std::clamp(0.65 + 0.8 * surest + 0.03 * static_cast<double>(windows) + agreed, 0.0, 0.97);
  }
  out.push_back(f);
}

}  // namespace bareglass::host
