#include "tally.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <functional>
#include <map>
#include <mutex>
#include <thread>
#include <utility>

namespace bareglass::world {

namespace {

constexpr int kEnough = 10;  ///< cases from which the share of a kind says something

struct Share {
  int all = 0;
  int right = 0;
  void count(bool is_right) {
    ++all;
    right += is_right;
  }
  double part() const { return all == 0 ? 1.0 : static_cast<double>(right) / all; }
  std::string text() const {
    return all == 0 ? "     -" : fmt::format("{:5.1f} % of {}", 100.0 * part(), all);
  }
};

using Table = std::map<std::string, Share>;

std::string lines_of(const std::string& title, const Table& table) {
  std::string out = title + "\n";
  for (const auto& [name, share] : table) out += fmt::format("  {:<32}{}\n", name, share.text());
  return out;
}

std::string calibration(const std::vector<Verdict>& verdicts) {
  constexpr double kBands[] = {0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.01};
  std::string out = "confidence told: mean, how many were right\n";
  for (std::size_t b = 0; b + 1 < std::size(kBands); ++b) {
    Share share;
    double sum = 0.0;
    for (const Verdict& v : verdicts)
      for (const Verdict::Told& t : v.told)
        if (t.confidence >= kBands[b] && t.confidence < kBands[b + 1]) {
          share.count(t.right);
          sum += t.confidence;
        }
    if (share.all > 0)
      out += fmt::format("  {:.2f} to {:.2f}        {:5.1f} %, {}\n", kBands[b],
                         std::min(1.0, kBands[b + 1]), 100.0 * sum / share.all, share.text());
  }
  return out;
}

/// The same by what was told, in wider bands: knots are read off it.
std::string calibration_by_cause(const std::vector<Verdict>& verdicts) {
  constexpr double kBands[] = {0.0, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.01};
  struct Band {
    Share share;
    double sum = 0.0;
  };
  std::map<std::pair<std::string, std::size_t>, Band> bands;
  for (const Verdict& v : verdicts)
    for (const Verdict::Told& t : v.told) {
      std::size_t b = 0;
      while (t.confidence >= kBands[b + 1]) ++b;
      Band& band = bands[{t.cause, b}];
      band.share.count(t.right);
      band.sum += t.confidence;
    }
  std::string out = "confidence told, by cause: mean, how many were right\n";
  for (const auto& [key, band] : bands)
    out += fmt::format("  {:<20}{:.2f} to {:.2f}  {:5.1f} %, {}\n", key.first, kBands[key.second],
                       std::min(1.0, kBands[key.second + 1]), 100.0 * band.sum / band.share.all,
                       band.share.text());
  return out;
}

/// Value below which `part` of them lie.
double percentile(std::vector<double> values, double part) {
  if (values.empty()) return 0.0;
  std::sort(values.begin(), values.end());
  return values[std::min(values.size() - 1,
                         static_cast<std::size_t>(part * static_cast<double>(values.size())))];
}

std::string places(const std::vector<Verdict>& verdicts) {
  std::vector<double> errors;
  for (const Verdict& v : verdicts)
    if (v.centre_mm >= 0) errors.push_back(v.centre_mm);
  if (errors.empty()) return {};
  return fmt::format(
      "centre of bodies from 15 mm on: {} told, median off by {:.1f} mm, 95 % within {:.1f} mm\n",
      errors.size(), percentile(errors, 0.5), percentile(errors, 0.95));
}

/// Reconstructions of the same bodies.
std::string rebuilt(const std::vector<Verdict>& verdicts, Tally& tally) {
  std::vector<double> centres, ratios, off, widths;
  Share near, centre, area, earth;
  for (const Verdict& v : verdicts) {
    if (!v.rebuilt) continue;
    const Verdict::Rebuilt& r = *v.rebuilt;
    centres.push_back(r.centre_mm);
    ratios.push_back(r.area_ratio);
    off.push_back(std::abs(r.area_ratio - 1.0));
    widths.push_back(r.area_width);
    near.count(std::abs(r.area_ratio - 1.0) <= 0.2);
    centre.count(r.x_held);
    centre.count(r.y_held);
    area.count(r.area_held);
    if (r.earth_held) earth.count(*r.earth_held);
  }
  if (centres.empty()) return {};
  tally.centre_mm = percentile(centres, 0.95);
  tally.area_share = near.part();
  return fmt::format(
      "reconstructions of these: {}, centre of area off by {:.2f} mm (median), 95 % within {:.2f} "
      "mm\n  area over the true one: median {:.2f}, half within {:.0f} %, 95 % within {:.0f} %; "
      "within 20 %: {}\n  95 % intervals that hold the truth: centre {}, area {} (median width "
      "{:.0f} %), way to earth {}\n",
      centres.size(), percentile(centres, 0.5), percentile(centres, 0.95), percentile(ratios, 0.5),
      100 * percentile(off, 0.5), 100 * percentile(off, 0.95), near.text(), centre.text(),
      area.text(), 100 * percentile(widths, 0.5), earth.text());
}

std::string times(const std::vector<Verdict>& verdicts) {
  double sum = 0.0;
  const Verdict* worst = nullptr;
  for (const Verdict& v : verdicts) {
    sum += v.took_s;
    if (worst == nullptr || v.took_s > worst->took_s) worst = &v;
  }
  if (worst == nullptr) return {};
  return fmt::format("time of replay and diagnosis: mean {:.3f} s, longest {:.2f} s (seed {})\n",
                     sum / static_cast<double>(verdicts.size()), worst->took_s, worst->seed);
}

/// Calls `work` for 0..count - 1 on several threads; what one of them throws is thrown here.
void for_each(std::size_t count, int threads, const std::function<void(std::size_t)>& work) {
  std::atomic<std::size_t> next{0};
  std::exception_ptr trouble;
  std::mutex trouble_lock;
  const auto run = [&] {
    try {
      for (std::size_t n = next++; n < count; n = next++) work(n);
    } catch (...) {
      const std::lock_guard<std::mutex> lock(trouble_lock);
      trouble = std::current_exception();
      next = count;
    }
  };
  std::vector<std::thread> others;
  for (int t = 1; t < threads; ++t) others.emplace_back(run);
  run();
  for (std::thread& t : others) t.join();
  if (trouble) std::rethrow_exception(trouble);
}

}  // namespace

std::vector<Verdict> judge_cases(std::uint64_t seed, int cases, int threads,
                                 const DrawOptions& options) {
  std::vector<Verdict> out(static_cast<std::size_t>(cases));
  for_each(out.size(), threads,
           [&](std::size_t n) { out[n] = judge_case(draw_case(seed + n, options)); });
  return out;
}

Tally::Tally(const std::vector<Verdict>& verdicts) {
  Share first, alone, quiet, sure;
  int names = 0;
  Table labels, kinds, named, several, groups, quiet_groups;
  for (const Verdict& v : verdicts) {
    first.count(v.right_first);
    alone.count(v.right_alone);
    names += v.names;
    labels[v.label].count(v.right_first);
    kinds[v.kind].count(v.right_first);
    if (v.healthy) quiet.count(!v.alarmed);
    for (const std::string& group : v.groups) {
      groups[group].count(v.right_first);
      if (v.healthy) quiet_groups[group].count(!v.alarmed);
    }
    for (const Verdict::Told& t : v.told)
      if (t.sure) sure.count(t.right);
    for (const Verdict::Named& i : v.items) named[i.label].count(i.named);
    if (v.present < 2) continue;
    const std::string many = v.present == 2   ? "both of two"
                             : v.present == 3 ? "all of three"
                                              : "all of four or more";
    several[many + ", first right"].count(v.right_first);
    several[many + " named"].count(v.named == v.present);
  }
  right_share = first.part();
  alarm_share = 1.0 - quiet.part();
  sure_share = sure.part();
  for (const auto& [name, share] : labels)
    if (share.all >= kEnough) worst_kind = std::min(worst_kind, share.part());
  text = lines_of("first answer right, by what the first thing goes by", labels) +
         lines_of("first answer right, by what was put there", kinds) +
         lines_of("things and faults named, by what they go by", named);
  text += lines_of("first answer right, by what the case is like", groups) +
          lines_of("healthy and told nothing, by what the case is like", quiet_groups);
  if (!several.empty()) text += lines_of("several at once", several);
  text += calibration_by_cause(verdicts) + calibration(verdicts);
  text += fmt::format(
      "right first: {}\nby its first name alone: {} (names in the first answer: {:.2f})\n"
      "healthy told something: {:.2f} % of {}\ntold as sure and right: {}\n",
      first.text(), alone.text(), static_cast<double>(names) / static_cast<double>(verdicts.size()),
      100.0 * alarm_share, quiet.all, sure.text());
  text += places(verdicts) + rebuilt(verdicts, *this) + times(verdicts);
}

std::string list_wrong(const std::vector<Verdict>& verdicts, const DrawOptions& options) {
  std::string out;
  for (const Verdict& v : verdicts) {
    const bool complete = v.named == v.present;
    if (v.right_first && complete && !v.alarmed) continue;
    out += fmt::format("{} --world {}{}{} --seed {} --cases 1   said: {}   put: {}\n",
                       !v.right_first ? "wrong:     "
                       : v.alarmed    ? "alarm:     "
                                      : "incomplete:",
                       options.world, options.only_healthy ? " --healthy" : "",
                       options.only ? std::string(" --kind ") + name_of(*options.only) : "", v.seed,
                       v.said, v.healthy ? "nothing" : v.wanted);
  }
  return out;
}

}  // namespace bareglass::world
