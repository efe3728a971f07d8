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

void simulated_frame(benchmark::State& state) {
  PanelSetup setup;
  setup.rows = 40;
  setup.columns = 24;
  const field::PanelSpec spec = field::reference_panel(1.1);
  SimulatedPanel panel(spec, kernels_of(spec), setup);
  Situation now = five_objects();
  std::vector<std::uint16_t> counts;
  std::uint64_t t_us = 0;
  for (auto _ : state) {
    t_us += 10000;
    if (state.range(0) != 0 || t_us == 10000) move(now, static_cast<double>(t_us) * 1e-6);
    panel.scan(counts, now, t_us);
    benchmark::DoNotOptimize(counts.data());
  }
  state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()));
}
BENCHMARK(simulated_frame)->ArgNames({"moving"})->Arg(0)->Arg(1)->Unit(benchmark::kMicrosecond);

}  // namespace
