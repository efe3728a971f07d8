#include "contact_search.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace bareglass::host {

namespace {

// A fingertip trembles by 0.2 mm at most (common practice, no source); 0.2 pitches are 1 mm.
constexpr double kStill = 0.2;
// Further than this, pitches, it is another contact: a finger that goes so far in a window is
// noisy.
constexpr double kOneStep = 2.0;
// A second fingertip that comes within so many lines changes what the first one seems to spread to.
constexpr int kNeighbour = 4;
constexpr int kWholePanel = 256;
// Noise of a node under a contact that stays, over its signal: a trembling finger's. One that comes
// or goes within a window of twelve frames makes 20 %, one that moves on by a pitch 3 to 5 %.
constexpr double kTremble = 0.02;
// The noisiest of nine nodes by chance, twelve frames each.
constexpr double kNoisiest = 1.8;

// A finger that moves by a pitch in a window makes more noise than this, shares of a finger.
constexpr double kQuiet = 0.02;

// What no contact on a device with 4.5 pF to earth or less takes from a node, shares of a finger
// (tests/host/infer/earthed_contact_test.cpp computes it on four glasses). One that does is
// earthed, whatever other things around it do to its width.
constexpr double kMostPeak = 0.85;
// The least that a device without earth leaves to a fingertip where loss and coupling nearly
// cancel, shares of a finger.
constexpr double kLeastPeak = 0.03;

// By how much a contact grows at least when the device finds its way to earth.
constexpr double kDocked = 1.2;

// Beyond these a line is faulty rather than slow.
constexpr float kLeastSettled = 0.3f;
constexpr float kMostSettled = 3.f;

/// Calls `visit` with each node within `reach` lines of the contact's middle.
template <typename Visit>
void for_each_near(const Reading& reading, const ContactProfile& c, int reach, const Visit& visit) {
  const Shape shape = reading.shape();
  for (int r = std::max(0, c.row - reach); r <= std::min(shape.rows - 1, c.row + reach); ++r)
    for (int col = std::max(0, c.col - reach); col <= std::min(shape.cols - 1, c.col + reach);
         ++col)
      visit(reading.node_at(r, col));
}

bool is_near(const ContactProfile& a, const ContactProfile& b) {
  return std::hypot(a.x - b.x, a.y - b.y) < kStill;
}

/// A finger that goes on slowly: within a window it is smeared.
bool is_beside(const ContactProfile& a, const ContactProfile& b) {
  return !is_near(a, b) && std::hypot(a.x - b.x, a.y - b.y) < kOneStep;
}

/// And no wider: on a device without earth contacts are wider, if anything.
bool is_stronger(const ContactProfile& a, const ContactProfile& b) {
  return a.has_width && a.alone && b.alone && b.peak > 0.05 && a.volume > kDocked * b.volume &&
         is_near(a, b) && a.width - b.width < 0.15;
}

/// Share of the contact that `before` shows at its place, and how well that is known. Without a
/// reference `before` is held against a smooth panel: its own level there is unknown, and the
/// spread of manufacture about it is taken from the fit itself.
struct ShareBefore {
  double value = 0;
  double error = 1;
};
ShareBefore share_before(const Reading& reading, const ContactRun& run,
                         const std::vector<float>& before) {
  double nodes = 0, m = 0, b = 0, mm = 0, mb = 0, bb = 0;
  for_each_near(reading, run.contact, ContactProfile::kReach + 1, [&](std::size_t i) {
    const auto of_run = static_cast<double>(run.mean[i]);
    const auto of_before = static_cast<double>(before[i]);
    nodes += 1;
    m += of_run;
    b += of_before;
    mm += of_run * of_run;
    mb += of_run * of_before;
    bb += of_before * of_before;
  });
  const double square = mm - m * m / nodes;
  if (nodes < 9 || square <= 0) return {};
  const double value = (mb - m * b / nodes) / square;
  const double rest = std::max(0.0, bb - b * b / nodes - value * value * square);
  return {value, std::sqrt(rest / (nodes - 2) / square)};
}

}  // namespace

ContactSearch::ContactSearch(const Reading& reading, int finger_counts)
    : reading_(reading), finger_(std::max(16, finger_counts)) {
  const float level = std::max(1.f, quantile(reading.base(), 0.5));
  profile_ = earthed_profile(finger_ / static_cast<double>(level));
  settled_.reserve(reading.base().size());
  for (const float bare : reading.base())
    settled_.push_back(std::clamp(bare / level, kLeastSettled, kMostSettled));
  noise_ = static_cast<double>(reading.noise()) / finger_;
  looks_.resize(reading.windows());
  for (std::size_t k = first(); k < reading.windows(); ++k) looks_[k] = look_at(k);
}

std::vector<ContactRun> ContactSearch::runs() const {
  std::vector<ContactRun> out;
  ContactRun now;
  for (std::size_t k = first(); k < reading_.windows(); ++k) {
    if (!counts(k)) {
      close(out, now);
      continue;
    }
    const bool goes_on = now.to > now.from && is_same(looks_[k].contact, looks_[k - 1].contact) &&
                         looks_[k].contact.alone == looks_[k - 1].contact.alone;
    if (!goes_on) close(out, now);
    if (now.to == now.from) now.from = k;
    now.to = k + 1;
  }
  close(out, now);
  return out;
}

std::size_t ContactSearch::docked() const {
  for (std::size_t k = first(); k + 2 < looks_.size(); ++k) {
    const ContactProfile& weak = looks_[k].contact;
    const ContactProfile& next = looks_[k + 1].contact;
    if (!weak.has_width) continue;
    for (const std::size_t j : {k + 1, k + 2}) {
      const ContactProfile& full = looks_[j].contact;
      const bool stays =
          looks_[j].rests || (j + 1 < looks_.size() && is_same(looks_[j + 1].contact, full));
      if (!stays) continue;
      if (noise_ < kQuiet && looks_[k].rests && is_stronger(full, weak)) return k;
      // A contact that is put down in one window has reached its full strength in the next.
      const bool was_down = weak.volume > 0.25 * next.volume && is_near(weak, full);
      if (j == k + 2 && was_down && is_stronger(full, next)) return k + 1;
    }
  }
  return 0;
}

bool ContactSearch::came(const ContactRun& run) const {
  for (std::size_t k = first() - 1; k < run.from; ++k) {
    const Map map = map_of(k);
    const std::size_t node = reading_.node_at(run.contact.row, run.contact.col);
    if (std::abs(static_cast<double>(map[node])) > 0.5 * run.contact.peak * finger_) continue;
    if (reading_.has_reference()) return true;
    // Without a reference what was taken away looks put on. It does not come back by itself.
    for (std::size_t after = run.to; after < reading_.windows(); ++after)
      if (is_bare(run.contact, ContactProfile::kReach, map_of(after))) return true;
    // To the end of the dump: its negative must stand out from the spread of manufacture, or there
    // is no telling.
    const ShareBefore share = share_before(reading_, run, reading_.departure(k));
    return share.error < 0.2 && share.value > -0.5;
  }
  return false;
}

/// Slow lines take as large a share of a contact as of the bare reading; the announced finger is
/// that of a typical node.
ContactSearch::Map ContactSearch::map_of(std::size_t k) const {
  Map map = reading_.has_reference() ? reading_.departure(k) : reading_.change(1, k);
  for (std::size_t i = 0; i < map.size(); ++i) map[i] /= settled_[i];
  return map;
}

double ContactSearch::noise_of(int frames) const { return noise_ / std::sqrt(std::max(1, frames)); }

ContactSearch::Look ContactSearch::look_at(std::size_t k) const {
  const Map map = map_of(k);
  const double noise = noise_of(reading_.window(k).frames);
  Look look;
  look.contact = strongest_contact(map, reading_.shape(), finger_, noise);
  const double peak = look.contact.peak;
  // A film or a streak raises more than a contact on a device without earth lowers, unless these
  // are the ghosts of two contacts.
  const double raised = -static_cast<double>(*std::min_element(map.begin(), map.end())) / finger_;
  const bool own =
      look.contact.two_signs && raised_elsewhere(map, look.contact) < 0.4 * peak * finger_;
  const bool plain = own || raised < 0.4 * peak || are_ghosts(map, look.contact);
  look.rests = peak > std::max(kLeastPeak, 6 * noise) && plain && rests(look.contact, k);
  return look;
}

/// Greatest rise outside the contact's own nodes, counts.
double ContactSearch::raised_elsewhere(const Map& map, const ContactProfile& c) const {
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
bool ContactSearch::are_ghosts(const Map& map, const ContactProfile& a) const {
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
bool ContactSearch::counts(std::size_t k) const {
  const Look& look = looks_[k];
  if (!look.rests || look.contact.peak > kMostPeak) return false;
  if (!rests(look.contact, k, kNeighbour)) return false;
  // What came while the maps' base was taken is in it in part, and looks weak against it.
  if (!reading_.has_reference() && !rests(look.contact, 1)) return false;
  bool moves = false;
  for (const std::size_t n : {k - 1, k + 1}) {
    if (n >= looks_.size() || looks_[n].contact.peak <= 0) continue;
    if (!looks_[n].rests) continue;
    if (is_same(looks_[n].contact, look.contact)) return true;
    moves = moves || is_beside(looks_[n].contact, look.contact);
  }
  return noise_ < kQuiet && !moves;
}

/// Whether nothing within `reach` lines of the contact came, went or moved within window k.
bool ContactSearch::rests(const ContactProfile& c, std::size_t k, int reach) const {
  double noise = 0;
  for_each_near(reading_, c, reach, [&](std::size_t i) {
    noise = std::max(noise, static_cast<double>(reading_.window(k).noise[i]));
  });
  // Where loss and coupling cancel, both still tremble as those of a whole finger do.
  const double signal = c.two_signs ? 1.0 : std::max(c.peak, 0.3);
  return noise / finger_ < std::hypot(kTremble * signal, kNoisiest * noise_);
}

bool ContactSearch::is_same(const ContactProfile& a, const ContactProfile& b) const {
  return is_near(a, b) && std::abs(a.volume - b.volume) < 0.12 * b.volume + 2 * noise_;
}

/// Whether the map shows nothing within `reach` lines of the contact.
bool ContactSearch::is_bare(const ContactProfile& c, int reach, const Map& map) const {
  double most = 0;
  for_each_near(reading_, c, reach, [&](std::size_t i) {
    most = std::max(most, std::abs(static_cast<double>(map[i])));
  });
  return most < std::max(0.1 * c.peak * finger_, 6 * noise_of(reading_.window(1).frames) * finger_);
}

/// Without a reference the maps are held against one window, whose noise is in all of them: takes
/// out what the other windows without the contact read. Returns the frames that the base rests on.
int ContactSearch::take_base(ContactRun& run) const {
  int frames = reading_.window(1).frames;
  double windows = 1;
  Map sum(run.mean.size(), 0.f);
  for (std::size_t k = 2; k < reading_.windows(); ++k) {
    // It comes and goes in the windows beside the run.
    if (k + 1 >= run.from && k <= run.to) continue;
    const Map map = map_of(k);
    // Another contact elsewhere would leave its negative, and shift the rows it crosses.
    if (!is_bare(looks_[run.from].contact, kWholePanel, map)) continue;
    for (std::size_t i = 0; i < sum.size(); ++i) sum[i] += map[i];
    frames += reading_.window(k).frames;
    windows += 1;
  }
  for (std::size_t i = 0; i < sum.size(); ++i) run.mean[i] -= sum[i] / static_cast<float>(windows);
  return frames;
}

void ContactSearch::close(std::vector<ContactRun>& out, ContactRun& run) const {
  if (run.to > run.from) {
    judge(run);
    out.push_back(run);
  }
  run = {};
}

void ContactSearch::judge(ContactRun& run) const {
  Map& mean = run.mean;
  mean.assign(reading_.base().size(), 0.f);
  const auto windows = static_cast<double>(run.to - run.from);
  int frames = 0;
  for (std::size_t k = run.from; k < run.to; ++k) {
    const Map map = map_of(k);
    for (std::size_t i = 0; i < mean.size(); ++i) mean[i] += map[i] / static_cast<float>(windows);
    frames += reading_.window(k).frames;
  }
  double noise = noise_of(frames);
  if (!reading_.has_reference()) noise = std::hypot(noise, noise_of(take_base(run)));
  run.contact = strongest_contact(mean, reading_.shape(), finger_, noise);
  if (!run.contact.alone) return;
  run.ratio = profile_.ratio_of(run.contact);
  run.too_wide = profile_.is_too_wide(run.contact, noise);
}

}  // namespace bareglass::host
