#include "score.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <exception>
#include <map>
#include <mutex>
#include <thread>

namespace bareglass::score {

using host::Cause;
using host::name_of;

double Summary::right_share() const {
  double right = 0;
  for (const Judged& j : cases) right += j.right ? 1 : 0;
  return cases.empty() ? 0 : right / static_cast<double>(cases.size());
}

double Summary::right_share_of_visible() const {
  double right = 0;
  double visible = 0;
  for (const Judged& j : cases) {
    visible += j.visible ? 1 : 0;
    right += j.visible && j.right ? 1 : 0;
  }
  return visible == 0 ? 0 : right / visible;
}

int Summary::wrong_alarms() const {
  return static_cast<int>(std::count_if(cases.begin(), cases.end(), [](const Judged& j) {
    return j.drawn == Cause::bare_glass && !j.is_double && j.said != Cause::bare_glass &&
           j.said != Cause::not_enough;
  }));
}

std::string Summary::confusion() const {
  std::map<Cause, std::map<Cause, int>> table;
  for (const Judged& j : cases)
    if (!j.is_double) ++table[j.drawn][j.said];
  std::string out = "drawn cause: top cause said (times)\n";
  for (const auto& [drawn, said] : table) {
    out += fmt::format("  {:<18}", name_of(drawn));
    std::vector<std::pair<int, Cause>> order;
    for (const auto& [cause, n] : said) order.emplace_back(-n, cause);
    std::sort(order.begin(), order.end());
    for (const auto& [n, cause] : order) out += fmt::format(" {} {}", name_of(cause), -n);
    out += '\n';
  }
  return out;
}

std::string Summary::per_cause() const {
  struct Row {
    int all = 0, right = 0, hidden = 0, hidden_right = 0, second = 0;
    int off_by_lines = 0, lines = 0, places = 0;
    double mm = 0, worst_mm = 0;
  };
  std::map<Cause, Row> table;
  for (const Judged& j : cases) {
    if (j.is_double) continue;
    Row& r = table[j.drawn];
    ++r.all;
    r.right += j.right;
    r.hidden += !j.visible;
    r.hidden_right += !j.visible && j.right;
    r.second += j.visible && j.as_second_name;
    if (j.place_error_mm >= 0) {
      ++r.places;
      r.mm += j.place_error_mm;
      r.worst_mm = std::max(r.worst_mm, j.place_error_mm);
    }
    if (j.line_error >= 0) {
      ++r.lines;
      r.off_by_lines += j.line_error > 0;
    }
  }
  std::string out = fmt::format("{:<20}{:>6}{:>9}{:>11}{:>18}{:>13}{:>22}{:>22}\n", "cause",
                                "cases", "right", "invisible", "right if visible", "named second",
                                "place off, mm (max)", "lines named wrongly");
  for (const auto& [cause, r] : table) {
    const std::string place =
        r.places ? fmt::format("{:.1f} ({:.0f})", r.mm / r.places, r.worst_mm) : "-";
    const std::string lines = r.lines ? fmt::format("{} of {}", r.off_by_lines, r.lines) : "-";
    const int visible = r.all - r.hidden;
    const std::string seen =
        visible ? fmt::format("{:.1f} %", 100.0 * (r.right - r.hidden_right) / visible) : "-";
    out += fmt::format("{:<20}{:>6}{:>7.1f} %{:>11}{:>18}{:>13}{:>22}{:>22}\n", name_of(cause),
                       r.all, 100.0 * r.right / r.all, r.hidden, seen, r.second, place, lines);
  }
  return out;
}

namespace {

const char* family_of(Cause cause) {
  if (cause == Cause::bare_glass || cause == Cause::not_enough) return "nothing";
  if (cause >= Cause::open_line && cause <= Cause::intermittent_line) return "lines";
  if (cause >= Cause::interference && cause <= Cause::supply_sag) return "electrics";
  return "glass";
}

std::string calibration_of(const std::vector<Judged>& cases, const std::string& family) {
  constexpr double kBins[] = {0.0, 0.3, 0.5, 0.7, 0.8, 0.87, 0.93, 0.97, 1.01};
  std::string out;
  for (std::size_t b = 0; b + 1 < std::size(kBins); ++b) {
    int all = 0;
    int right = 0;
    double told = 0;
    for (const Judged& j : cases) {
      for (const Judged::Told& f : j.findings) {
        if (f.confidence < kBins[b] || f.confidence >= kBins[b + 1]) continue;
        if (!family.empty() && family != family_of(f.cause)) continue;
        ++all;
        right += f.right;
        told += f.confidence;
      }
    }
    if (all > 0)
      out +=
          fmt::format("  {:<10}{:.2f} to {:.2f} (mean {:.3f}): {:>6}, {:.1f} % right\n", family,
                      kBins[b], std::min(1.0, kBins[b + 1]), told / all, all, 100.0 * right / all);
  }
  return out;
}

}  // namespace

std::string Summary::calibration() const {
  std::string out = "confidence told: findings, of which right\n" + calibration_of(cases, {});
  for (const char* family : {"glass", "lines", "electrics", "nothing"})
    out += calibration_of(cases, family);
  return out;
}

std::string Summary::several() const {
  int all = 0;
  int truths = 0;
  int named = 0;
  int both = 0;
  int top = 0;
  for (const Judged& j : cases) {
    if (!j.is_double) continue;
    ++all;
    truths += j.truths;
    named += j.truths_named;
    both += j.truths == j.truths_named;
    top += j.right;
  }
  if (all == 0) return {};
  return fmt::format(
      "two causes at once: {} cases, {:.1f} % of the causes named, both named in {:.1f} %, top "
      "cause right in {:.1f} %\n",
      all, 100.0 * named / truths, 100.0 * both / all, 100.0 * top / all);
}

Summary run(const std::vector<Cause>& causes, bool doubles, std::uint64_t seed, int cases,
            int threads, const std::string& panel_folder) {
  const std::size_t kinds = causes.size() + (doubles ? 1 : 0);
  Summary summary;
  summary.cases.resize(kinds * static_cast<std::size_t>(cases));
  std::atomic<std::size_t> next{0};
  std::exception_ptr trouble;
  std::mutex trouble_lock;
  const auto work = [&] {
    try {
      for (std::size_t n = next++; n < summary.cases.size(); n = next++) {
        const std::uint64_t own = seed + n / kinds;
        const std::size_t kind = n % kinds;
        summary.cases[n] = judge(kind < causes.size() ? make_case(causes[kind], own, panel_folder)
                                                      : make_double_case(own, panel_folder),
                                 own);
      }
    } catch (...) {
      const std::lock_guard<std::mutex> lock(trouble_lock);
      trouble = std::current_exception();
      next = summary.cases.size();
    }
  };
  std::vector<std::thread> others;
  for (int t = 1; t < threads; ++t) others.emplace_back(work);
  work();
  for (std::thread& t : others) t.join();
  if (trouble) std::rethrow_exception(trouble);
  return summary;
}

}  // namespace bareglass::score
