// Counts how often the core is wrong about a power-up: healthy panels that it refuses, things on
// the glass that it lets input on over.
//
//   bareglass_start_judge [--healthy N] [--objects N] [--seed S] [--list]
//                         [--most-refused-with PERMILLE] [--most-refused-without PERMILLE]
//
// N power-ups for each kind of knowledge: without a reference, with a noisy one, with an aged one,
// with one from another temperature. The exit code is 1 if a thing above the stated size was let
// on, if a power-up was left undecided, or if more healthy panels were refused than allowed: of
// those with a reference from the same temperature, and of those without one whose own spread
// leaves a finger visible. Seeds below 1000000 are for tuning.

#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <exception>
#include <functional>
#include <stdexcept>
#include <string>
#include <vector>

#include "start_cases.hpp"

namespace {

using namespace bareglass;
using score::Known;
using score::StartResult;

struct Options {
  int healthy = 250, objects = 100;
  std::uint64_t seed = 1;
  bool list = false;
  int most_with = 1000, most_without = 1000;
};

Options parse(int argc, char** argv) {
  Options o;
  for (int k = 1; k < argc; ++k) {
    const std::string key = argv[k];
    if (key == "--list") {
      o.list = true;
      continue;
    }
    if (k + 1 >= argc) throw std::runtime_error(key + ": expected a value");
    const std::string value = argv[++k];
    if (key == "--healthy")
      o.healthy = std::stoi(value);
    else if (key == "--objects")
      o.objects = std::stoi(value);
    else if (key == "--seed")
      o.seed = std::stoull(value);
    else if (key == "--most-refused-with")
      o.most_with = std::stoi(value);
    else if (key == "--most-refused-without")
      o.most_without = std::stoi(value);
    else
      throw std::runtime_error(key +
                               ": expected --healthy, --objects, --seed, --list, "
                               "--most-refused-with or --most-refused-without");
  }
  return o;
}

using Which = std::function<bool(const StartResult&)>;

bool is_known(const StartResult& r) { return r.start.known != Known::nothing; }
bool is_same_temperature(const StartResult& r) {
  return is_known(r) && r.start.known != Known::warmer;
}
bool is_hidden(const StartResult& r) { return r.untold; }

struct Count {
  int all = 0, refused = 0, hidden = 0;
};

Count count(const std::vector<StartResult>& all, const Which& which) {
  Count n;
  for (const StartResult& r : all) {
    if (r.start.with_object || !which(r)) continue;
    ++n.all;
    n.hidden += is_hidden(r) ? 1 : 0;
    n.refused += !r.on ? 1 : 0;
  }
  return n;
}

void print_healthy(const std::vector<StartResult>& all, const std::string& name,
                   const Which& which) {
  const Count n = count(all, which);
  if (n.all == 0) return;
  fmt::print("{:<44}{:>6}{:>9}{:>10}\n", name, n.all, n.refused, n.hidden);
}

/// `steps` of a drawn quantity, each over the panels of `which`.
void print_by(const std::vector<StartResult>& all, const std::string& name, const Which& which,
              const std::function<double(const StartResult&)>& value,
              const std::vector<double>& steps) {
  for (std::size_t k = 0; k + 1 < steps.size(); ++k)
    print_healthy(all, fmt::format("  {} {:g} to {:g}", name, steps[k], steps[k + 1]),
                  [&](const StartResult& r) {
                    return which(r) && value(r) >= steps[k] && value(r) < steps[k + 1];
                  });
}

void print_tables(const std::vector<StartResult>& all) {
  fmt::print("{:<44}{:>6}{:>9}{:>10}\n", "healthy power-ups", "", "refused", "untold");
  const auto spread = [](const StartResult& r) { return r.start.spread_permille / 10; };
  const auto noise = [](const StartResult& r) { return r.start.noise_permille / 10; };
  const auto depth = [](const StartResult& r) { return r.start.depth_permille / 10; };
  const auto gain = [](const StartResult& r) { return std::abs(r.start.gain_permille) / 10; };
  const Which without = [](const StartResult& r) { return !is_known(r); };
  const Which told = [](const StartResult& r) { return !is_known(r) && !is_hidden(r); };
  for (const Which& which : {Which(is_same_temperature), told}) {
    const bool known =
        count(all, [&](const StartResult& r) { return which(r) && is_known(r); }).all != 0;
    print_healthy(all, known ? "with a reference" : "without, a finger would be seen", which);
    print_by(all, "spread, % of a node:", which, spread, {0, 0.5, 1, 1.5, 2, 3, 4, 6});
    print_by(all, "noise, % of a finger:", which, noise, {0, 0.5, 1, 1.5, 2, 5});
    print_by(all, "first frame low by, %:", which, depth, {0, 0.1, 5, 15, 25});
    print_by(all, "lines:", which, [](const StartResult& r) { return r.start.rows + r.start.cols; },
             {20, 40, 60, 80, 120});
  }
  print_healthy(all, "without, all", without);
  print_by(all, "spread, % of a node:", without, spread, {0, 0.5, 1, 1.5, 2, 3, 4, 6});
  const Which warmer = [](const StartResult& r) { return r.start.known == Known::warmer; };
  print_healthy(all, "reference from another temperature", warmer);
  print_by(all, "gain off by, %:", warmer, gain, {0, 0.5, 0.75, 1, 1.25, 1.5, 2, 3});
}

struct Seen {
  int all = 0, on = 0, above = 0, above_on = 0;
};

Seen judge_objects(const std::vector<StartResult>& all, const Which& which) {
  Seen n;
  for (const StartResult& r : all) {
    if (!r.start.with_object || !which(r)) continue;
    ++n.all;
    n.on += r.on ? 1 : 0;
    const bool above = r.object_permille >= r.stated_permille && r.stated_permille > 0;
    n.above += above ? 1 : 0;
    n.above_on += above && r.on ? 1 : 0;
  }
  return n;
}

std::string listing(const StartResult& r) {
  return fmt::format(
      "{} seed {} known {} {}x{} {} spread {:.2f} % noise {:.2f} % low {:.1f} % tau {:.1f} ms "
      "delay "
      "{:.0f} ms gain {:.2f} % why {}, {} {:.1f} % object {:.1f} % stated {:.1f} % bare {:.1f} % "
      "{}\n",
      r.on ? "on" : (r.decided ? "off" : "undecided"), r.start.seed,
      static_cast<int>(r.start.known), r.start.rows, r.start.cols,
      r.start.panel_path.substr(r.start.panel_path.size() - 8, 3), r.start.spread_permille / 10,
      r.start.noise_permille / 10, r.start.depth_permille / 10, r.start.tau_ms, r.start.delay_ms,
      r.start.gain_permille / 10, static_cast<int>(r.why), name_of(r.kind), r.value_permille / 10,
      r.object_permille / 10, r.stated_permille / 10, r.bare_permille / 10, r.start.object);
}

bool is_too_many(const char* name, const Count& n, int most_permille) {
  const bool too_many = 1000 * n.refused > most_permille * n.all;
  if (too_many) fmt::print("{}: {} of {} healthy panels refused\n", name, n.refused, n.all);
  return too_many;
}

int run(int argc, char** argv) {
  const Options o = parse(argc, argv);
  std::vector<StartResult> all;
  for (int k = 0; k < score::kKnownCount; ++k)
    for (int n = 0; n < o.healthy + o.objects; ++n)
      all.push_back(score::play_start(o.seed + static_cast<std::uint64_t>(n), static_cast<Known>(k),
                                      n >= o.healthy, BAREGLASS_PANEL_FOLDER));
  print_tables(all);
  fmt::print("\n{:<44}{:>6}{:>9}{:>10}{:>10}\n", "things on the glass", "", "let on", "above",
             "of these on");
  int undecided = 0;
  for (const StartResult& r : all) undecided += r.decided ? 0 : 1;
  const auto print_objects = [&](const char* name, const Which& which) {
    const Seen n = judge_objects(all, which);
    fmt::print("{:<44}{:>6}{:>9}{:>10}{:>10}\n", name, n.all, n.on, n.above, n.above_on);
    return n.above_on;
  };
  int wrong = print_objects("with a reference", is_known);
  wrong += print_objects("without", [](const StartResult& r) { return !is_known(r); });
  fmt::print("undecided: {}\n", undecided);
  if (o.list)
    for (const StartResult& r : all)
      if (!r.decided || (r.start.with_object ? r.on : !r.on && !is_hidden(r)))
        std::fputs(listing(r).c_str(), stdout);
  const bool refused =
      is_too_many("with a reference", count(all, is_same_temperature), o.most_with) |
      is_too_many("without",
                  count(all, [](const StartResult& r) { return !is_known(r) && !is_hidden(r); }),
                  o.most_without);
  return wrong != 0 || undecided != 0 || refused ? 1 : 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return run(argc, argv);
  } catch (const std::exception& e) {
    fmt::print(stderr, "bareglass_start_judge: {}\n", e.what());
    return 2;
  }
}
