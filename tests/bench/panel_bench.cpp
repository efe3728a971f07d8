// What a simulated frame costs. Budget: 1,000 frames a second at 40 x 24 with five objects.
#include <benchmark/benchmark.h>

#include <cmath>
#include <vector>

#include "bareglass/panel/simulated_panel.hpp"

namespace {

using namespace bareglass;
using namespace bareglass::panel;

constexpr double kTurn = 6.283185307179586;

// Two fingers and a thumb that move, a drop and a streak that lie there.
Situation five_objects() {
  Situation s;
  s.conductors = {{Outline::disc(8.0), {}, 150.0, 0.0, {}},
                  {Outline::disc(8.5), {}, 150.0, 0.0, {}},
                  {Outline::disc(12.0), {}, 150.0, 0.0, {}},
                  {Outline::disc(7.0), {80.0, 30.0}, 0.0, 0.0, {}},
                  {Outline::stroke({{0, 0}, {20, 15}}, 4.0), {85.0, 160.0}, 0.0, 0.0, {}}};
  s.device.earth_pf = 20.0;
  return s;
}

void move(Situation& s, double t_s) {
  for (std::size_t k = 0; k < 3; ++k) {
    const double turn = kTurn * (0.31 + 0.07 * static_cast<double>(k)) * t_s;
    s.conductors[k].place = {30.0 + 25.0 * static_cast<double>(k) + 14.0 * std::sin(turn),
                             100.0 + 40.0 * std::cos(1.3 * turn)};
  }
}

// Everything that costs: a finger, a long drop and a thumb as polygons, an L-shaped streak and a
// diagonal one; all of them move all the time.
Situation mixed_objects() {
  const auto ellipse = [](double width, double height) {
    std::vector<field::Point> corners;
    for (int k = 0; k < 24; ++k)
      corners.push_back(
          {0.5 * width * std::cos(kTurn * k / 24), 0.5 * height * std::sin(kTurn * k / 24)});
    return Outline::polygon(std::move(corners));
  };
  Situation s;
  s.conductors = {{Outline::disc(8.0), {}, 150.0, 0.0, {}},
                  {ellipse(7.0, 16.0), {}, 0.0, 0.0, {}},
                  {ellipse(11.0, 14.0), {}, 150.0, 0.0, {}},
                  {Outline::stroke({{0, 15}, {0, 0}, {15, 0}}, 4.0), {}, 0.0, 0.0, {}},
                  {Outline::stroke({{0, 0}, {20, 15}}, 4.0), {}, 0.0, 0.0, {}}};
  s.device.earth_pf = 20.0;
  return s;
}

// Apart: each on a round of its own. Close: all within a few millimetres of one another, so that
// charge between them counts. Joined: they slide over one another.
enum Company : std::int64_t { kApart, kClose, kJoined };

void move_all(Situation& s, Company company, double t_s) {
  constexpr double kLane[5] = {20.0, 45.0, 70.0, 95.0, 150.0};
  constexpr double kHuddle[5] = {38.0, 54.0, 70.0, 88.0, 112.0};
  constexpr double kHeap[5] = {40.0, 50.0, 57.0, 70.0, 90.0};
  const double* at = company == kApart ? kLane : (company == kClose ? kHuddle : kHeap);
  for (std::size_t k = 0; k < 5; ++k) {
    const double turn =
        kTurn * (company == kApart ? 0.31 + 0.07 * static_cast<double>(k) : 0.3) * t_s;
    const double wobble = company == kApart
                              ? 0.0
                              : 0.8 * std::sin(kTurn * (1.0 + 0.3 * static_cast<double>(k)) * t_s);
    s.conductors[k].place = {45.0 + 14.0 * std::sin(turn) + wobble, at[k] + 8.0 * std::cos(turn)};
  }
}

void run(benchmark::State& state, Situation now,
         void (*move_to)(Situation&, std::int64_t, double)) {
  PanelSetup setup;
  setup.rows = 40;
  setup.columns = 24;
  const field::PanelSpec spec = field::reference_panel(1.1);
  SimulatedPanel panel(
      spec, kernels_of(spec, BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_1_1.toml"),
      setup);
  std::vector<std::uint16_t> counts;
  std::uint64_t t_us = 0;
  for (auto _ : state) {
    t_us += 10000;
    move_to(now, state.range(0), static_cast<double>(t_us) * 1e-6);
    panel.scan(counts, now, t_us);
    benchmark::DoNotOptimize(counts.data());
  }
  state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()));
}

void simulated_frame(benchmark::State& state) {
  run(state, five_objects(),
      [](Situation& s, std::int64_t moving, double t_s) { move(s, moving != 0 ? t_s : 0.01); });
}
BENCHMARK(simulated_frame)->ArgNames({"moving"})->Arg(0)->Arg(1)->Unit(benchmark::kMicrosecond);

void simulated_frame_all_moving(benchmark::State& state) {
  run(state, mixed_objects(), [](Situation& s, std::int64_t company, double t_s) {
    move_all(s, static_cast<Company>(company), t_s);
  });
}
BENCHMARK(simulated_frame_all_moving)
    ->ArgNames({"company"})
    ->Arg(kApart)
    ->Arg(kClose)
    ->Arg(kJoined)
    ->Unit(benchmark::kMicrosecond);

}  // namespace
