#include "timeline.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/present/html.hpp"
#include "bareglass/present/page_words.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host::report {

namespace {

constexpr int kLane = 38;
constexpr int kBar = 15;
constexpr std::size_t kMostFindings = 3;
constexpr std::size_t kMostTicks = 200;

class Drawing {
 public:
  explicit Drawing(const Account& a)
      : account_(a), zero_(std::min(zero_time(a, a.first_us), a.first_us)), end_(a.last_us) {
    if (end_ <= zero_) end_ = zero_ + 1;
  }

  double x(std::uint64_t t_us) const {
    const std::uint64_t t = std::clamp(t_us, zero_, end_);
    return 0.4 + 99.2 * static_cast<double>(t - zero_) / static_cast<double>(end_ - zero_);
  }
  void lane(const std::string& name) {
    y_ += kLane;
    out_ += fmt::format(
        "<text x=\"0\" y=\"{}\" font-size=\"12\" fill=\"#111111\" stroke=\"#ffffff\" "
        "stroke-width=\"3\" paint-order=\"stroke\">{}</text>\n",
        y_ - kBar - 5, escaped(name));
    out_ += fmt::format(
        "<line x1=\"0.4%\" x2=\"99.6%\" y1=\"{0}\" y2=\"{0}\" stroke=\"#999999\"/>\n", y_);
  }
  void bar(std::uint64_t from, std::uint64_t to, const char* fill) {
    out_ += fmt::format(
        "<rect x=\"{:.2f}%\" y=\"{}\" width=\"{:.2f}%\" height=\"{}\" fill=\"{}\" "
        "stroke=\"#111111\"/>\n",
        x(from), y_ - kBar, std::max(0.3, x(to) - x(from)), kBar, fill);
  }
  void tick(std::uint64_t t) {
    out_ += fmt::format(
        "<line x1=\"{0:.2f}%\" x2=\"{0:.2f}%\" y1=\"{1}\" y2=\"{2}\" stroke=\"#111111\" "
        "stroke-width=\"2\"/>\n",
        x(t), y_ - kBar, y_);
  }
  void decisive(std::uint64_t t) {
    out_ = fmt::format(
               "<line x1=\"{0:.2f}%\" x2=\"{0:.2f}%\" y1=\"16\" y2=\"{1}\" stroke=\"#111111\" "
               "stroke-width=\"1.5\" stroke-dasharray=\"5 3\"/>\n",
               x(t), y_) +
           out_;
    const bool right = x(t) > 60;
    out_ += fmt::format(
        "<text x=\"{:.2f}%\" y=\"12\" font-size=\"12\" fill=\"#111111\" stroke=\"#ffffff\" "
        "stroke-width=\"3\" paint-order=\"stroke\" "
        "text-anchor=\"{}\">{}</text>\n",
        x(t), right ? "end" : "start",
        escaped(fmt::format("pictures: {}", text::moment(t, account_))));
  }
  void axis();
  void mark(double at, const std::string& label);
  std::string take() {
    return fmt::format(
               "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-label=\"Timeline\" "
               "width=\"100%\" height=\"{}\" font-family=\"sans-serif\" class=\"timeline\">\n",
               y_ + 26) +
           out_ + "</svg>\n";
  }

 private:
  const Account& account_;
  std::uint64_t zero_, end_;
  int y_ = 14;
  std::string out_;
};

// Four to eight marks at 1, 2 or 5 times a power of ten.
double axis_step(double span_s) {
  const double rough = std::max(span_s, 1e-6) / 5.0;
  const double power = std::pow(10.0, std::floor(std::log10(rough)));
  for (const double k : {1.0, 2.0, 5.0})
    if (k * power >= rough) return k * power;
  return 10.0 * power;
}

void Drawing::axis() {
  const double span_s = static_cast<double>(end_ - zero_) / 1e6;
  const double step = axis_step(span_s);
  const int digits = step >= 1.0 ? 0 : static_cast<int>(std::ceil(-std::log10(step) - 1e-9));
  // Counted as in the texts: from the zero of each run.
  double end = -10;
  for (std::size_t n = 0; n < std::max<std::size_t>(1, account_.runs.size()); ++n) {
    const std::uint64_t run_zero = account_.runs.empty() ? zero_ : account_.runs[n].zero_us;
    const bool last = n + 1 >= account_.runs.size();
    const double to = last ? 97.0 : x(account_.runs[n + 1].zero_us) - 4.0;
    const double from_s = static_cast<double>(run_zero - zero_) / 1e6;
    if (x(run_zero) < end + 4.0) continue;  // no room for a label of its own
    for (int k = 0; 0.4 + 99.2 * (k * step + from_s) / span_s <= (k == 0 ? 97.4 : to); ++k) {
      end = 0.4 + 99.2 * (k * step + from_s) / span_s;
      mark(end, fmt::format("{:.{}f} s", k * step, digits));
    }
  }
}

void Drawing::mark(double at, const std::string& label) {
  out_ += fmt::format(
      "<line x1=\"{0:.2f}%\" x2=\"{0:.2f}%\" y1=\"{1}\" y2=\"{2}\" stroke=\"#444444\"/>\n"
      "<text x=\"{0:.2f}%\" y=\"{3}\" font-size=\"12\" fill=\"#444444\" "
      "text-anchor=\"{4}\">{5}</text>\n",
      at, y_, y_ + 5, y_ + 19, at < 3 ? "start" : "middle", label);
}

void draw_input(Drawing& d, const Account& a) {
  d.lane("Input: filled = on, striped = off");
  bool on = false;
  std::uint64_t since = std::min(zero_time(a, a.first_us), a.first_us);
  const auto change = [&](bool now, std::uint64_t t) {
    if (now == on) return;
    d.bar(since, t, on ? "#333333" : "url(#off)");
    on = now;
    since = t;
  };
  for (const JournalEntry& e : a.events) {
    if (e.code == JournalCode::input_on || e.code == JournalCode::joined_midway)
      change(true, e.t_us);
    if (e.code == JournalCode::input_off || e.code == JournalCode::waiting ||
        e.code == JournalCode::service_entered || e.code == JournalCode::power_up ||
        e.code == JournalCode::clock_restarted)
      change(false, e.t_us);
  }
  d.bar(since, a.last_us, on ? "#333333" : "url(#off)");
}

}  // namespace

std::string timeline(const Account& a, const Diagnosis& diagnosis) {
  Drawing d(a);
  draw_input(d, a);
  std::size_t drawn = 0;
  for (const CauseFound& c : diagnosis.causes) {
    if (c.cause == Cause::bare_glass || c.cause == Cause::not_enough || drawn == kMostFindings)
      continue;
    ++drawn;
    d.lane(text::title(c));
    d.bar(c.first_us, c.ended ? c.ended_us : a.last_us, "#8c8c8c");
  }
  d.lane(a.touches == 0 ? "Touches reported: none"
                        : fmt::format("Touches reported: {}", a.touches));
  for (std::size_t i = 0; i < a.touches_us.size() && i < kMostTicks; ++i) d.tick(a.touches_us[i]);
  if (!a.decisive.difference.empty()) d.decisive(a.decisive.t_us);
  d.axis();
  return d.take();
}

}  // namespace bareglass::host::report
