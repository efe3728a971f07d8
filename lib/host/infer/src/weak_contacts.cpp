// Contacts far weaker than their width allows: the device has no good way to earth.
//
// An earthed conductor takes from a node what it covers of the node's field, so signal and width of
// a round contact go together: a small fingertip is weak and narrow, a large one strong and wide.
// On a device with little capacitance to earth the conductor couples its rows to its columns,
// C_TF C_FR / (C_FF + C_b), which gives back most where the loss is greatest: weak, yet wide. Two
// such contacts raise the two nodes where the rows of one cross the columns of the other.

#include <algorithm>
#include <cstdlib>

#include "contact_search.hpp"
#include "electrical_survey.hpp"

namespace bareglass::host {

namespace {

// A glove, a thick sheet and a thing with a way to earth of its own make the same contact, so that
// it is never sure.
constexpr double kMostSure = 0.88;

Box box_of(const ContactProfile& c, Shape shape) {
  const auto line = [](int n, int count) {
    return static_cast<std::uint8_t>(std::clamp(n, 0, count - 1));
  };
  return {line(c.row - 1, shape.rows), line(c.row + 1, shape.rows), line(c.col - 1, shape.cols),
          line(c.col + 1, shape.cols)};
}

/// Whether the contact on this node stayed long enough to be judged by its averaged map.
bool is_judged(const std::vector<ContactRun>& runs, int row, int col) {
  return std::any_of(runs.begin(), runs.end(), [&](const ContactRun& run) {
    const ContactProfile& c = run.contact;
    return c.has_width && c.alone && std::abs(c.row - row) <= 1 && std::abs(c.col - col) <= 1;
  });
}

/// The core looks at single frames and at contacts near a node's middle only, but misses none that
/// is shorter than a window. What stayed longer is known better than that.
const FindingStory* weak_by_core(const Reading& reading, const Account& account,
                                 const std::vector<ContactRun>& runs) {
  const FindingStory* best = nullptr;
  for (const FindingStory& story : account.findings) {
    if (story.last.kind != FindingKind::weak_coupling) continue;
    const Finding& last = story.last;
    if (reading.masked(reading.node_at(last.peak_row, last.peak_col))) continue;
    if (is_judged(runs, last.peak_row, last.peak_col)) continue;
    if (best == nullptr || story.last.measured < best->last.measured) best = &story;
  }
  return best;
}

}  // namespace

void find_weak_contacts(std::vector<ElectricalFound>& out, const Reading& reading,
                        const Account& account) {
  const ContactSearch search(reading, account.settings.finger_counts);
  if (search.profile().limit <= 0) return;
  ElectricalFound f;
  f.cause = Cause::floating_ground;
  f.limit = search.profile().limit;
  double surest = 0;
  std::size_t windows = 0;
  const std::size_t docked = search.docked();
  const std::vector<ContactRun> runs = search.runs();
  for (const ContactRun& run : runs) {
    // One that then grew on the spot needs no further proof.
    const bool grew = docked > 0 && run.from <= docked;
    if (run.ratio < 0 || run.ratio > f.limit) continue;
    if ((!grew && !run.too_wide) || !search.came(run)) continue;
    if (windows == 0) f.first_us = reading.window(run.from).first_us;
    f.last_us = reading.window(run.to - 1).last_us;
    f.value = std::max(f.value, run.contact.peak);
    const Box box = box_of(run.contact, reading.shape());
    f.box = f.has_box ? enclosing(f.box, box) : box;
    f.has_box = true;
    windows += run.to - run.from;
    surest = std::max(surest, (f.limit - run.ratio) / f.limit);
  }
  const FindingStory* core = weak_by_core(reading, account, runs);
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
    f.score = std::clamp(0.65 + 0.8 * surest + 0.03 * static_cast<double>(windows) + agreed, 0.0,
                         kMostSure);
  }
  out.push_back(f);
}

}  // namespace bareglass::host
