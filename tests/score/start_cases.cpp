#include "start_cases.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "bareglass/panel/simulated_panel.hpp"
#include "bareglass/panel_model/glass_model.hpp"
#include "draw.hpp"

namespace bareglass::score {

namespace {

constexpr int kMostLines = 128;
/// Nobody waits longer for a decision.
constexpr double kLongest_s = 4.0;

/// A drawn power-up with all that it takes to play it.
struct Played {
  Start start;
  Case panel;
  std::uint32_t period_us = 8000;
  std::uint64_t first_us = 0;  ///< of the first frame
  panel::Situation bare, now;
};

Played draw_start(std::uint64_t seed, Known known, Draw& draw, const std::string& folder) {
  Played p;
  p.start.seed = seed;
  p.start.known = known;
  draw_panel(p.panel, draw, folder, 1.0);
  panel::Scenario& s = p.panel.scenario;
  p.start.panel_path = s.panel_path;
  p.start.rows = s.setup.rows;
  p.start.cols = s.setup.columns;
  s.setup.front_end.gain_ppm_k = 0;
  p.start.spread_permille = draw.between(0, 60);
  s.setup.front_end.noise_ff = draw.between(0.5, 2.5);
  // Of the drive, so it shifts whole rows: up to 2 fF of a node.
  p.bare.device.ripple = {draw.chance(0.5) ? draw.between(0, 0.02) : 0.0, draw.factor(40, 4000)};
  p.bare.device.supply_mv = 3700;
  if (draw.chance(0.6)) {
    p.start.depth_permille = draw.between(20, 250);
    p.start.tau_ms = draw.between(2, 15);
  }
  p.start.delay_ms = draw.chance(0.5) ? draw.between(0, 600) : 0;
  p.period_us = static_cast<std::uint32_t>(draw.whole(4, 20)) * 1000;
  p.first_us = static_cast<std::uint64_t>(p.start.delay_ms * 1000) + p.period_us;
  if (known == Known::warmer) p.start.gain_permille = draw.between(-30, 30);
  p.now = p.bare;
  return p;
}

panel::Conductor draw_object(Played& p, Draw& draw) {
  panel::Conductor c;
  double wide = 0;
  switch (draw.whole(0, 3)) {
    case 0:
    case 1:
      wide = draw.between(4, 14);
      c.outline = panel::Outline::disc(wide);
      p.start.object = fmt::format("disc of {:.1f} mm", wide);
      break;
    case 2: {
      wide = draw.between(6, 50);
      const double high = draw.between(6, 50);
      c.outline = panel::Outline::rectangle(wide, high);
      p.start.object = fmt::format("rectangle of {:.0f} x {:.0f} mm", wide, high);
      break;
    }
    default:
      wide = draw.between(12, 30);
      c.outline = panel::Outline::stroke({{0, 0}, {wide, draw.between(-wide, wide)}}, 5);
      p.start.object = fmt::format("streak of {:.0f} mm", wide);
  }
  c.place = inside(p.panel, draw, 0);
  switch (draw.whole(0, 2)) {
    case 0:
      c.earth_pf = draw.between(100, 200);
      p.start.object += ", a person's";
      break;
    case 1:
      c.earth_pf = panel::kConnected;
      p.start.object += ", earthed";
      break;
    default:
      p.start.object += ", isolated";
  }
  return c;
}

std::vector<std::uint16_t> reference_of(const Played& p, panel::SimulatedPanel& simulated,
                                        Draw& draw) {
  std::vector<std::uint16_t> out = simulated.reference();
  const double noise = p.start.known == Known::noisy
                           ? simulated.setup().front_end.noise_ff *
                                 simulated.setup().front_end.counts_per_ff / draw.between(1, 4)
                           : 0.0;
  panel::Random random(p.start.seed, 78);
  const double ageing = p.start.known == Known::aged ? draw.between(0.0001, 0.0008) : 0.0;
  for (std::uint16_t& v : out) {
    const double changed = v * (1 + p.start.gain_permille / 1000) * (1 + ageing * random.normal()) +
                           noise * random.normal();
    v = static_cast<std::uint16_t>(std::clamp(std::lround(changed), 0L, 65535L));
  }
  return out;
}

/// Largest change of a node by what lies there, counts.
double largest_change(panel::SimulatedPanel& simulated, const Played& p) {
  std::vector<std::uint16_t> counts;
  simulated.scan(counts, p.bare, 0);
  const panel::NodeMatrix bare = simulated.charge();
  simulated.scan(counts, p.now, 0);
  return (simulated.charge() - bare).cwiseAbs().maxCoeff() *
         simulated.setup().front_end.counts_per_ff;
}

/// The front end reads low at first, in proportion.
void settle(std::vector<std::uint16_t>& counts, const Start& start, double since_first_ms) {
  if (start.depth_permille <= 0) return;
  const double share = 1 - start.depth_permille / 1000 * std::exp(-since_first_ms / start.tau_ms);
  for (std::uint16_t& v : counts) v = static_cast<std::uint16_t>(std::lround(v * share));
}

/// With a reference only noise stands between the limit and what is surely seen.
void state_size(StartResult& result, const JournalEntry& e, double finger) {
  const bool of_the_glass =
      e.code == JournalCode::glass_bare || e.code == JournalCode::glass_not_bare;
  if (of_the_glass && result.stated_permille <= 0)
    result.stated_permille = 1000 * e.limit * 1.1 / finger;
}

void read_journal(StartResult& result, const Engine& engine, double finger) {
  const Journal& journal = engine.journal();
  for (std::uint32_t n = journal.first(); n < journal.end(); ++n) {
    const JournalEntry& e = journal.at(n);
    switch (e.code) {
      case JournalCode::glass_not_bare:
      case JournalCode::spread_hides:
      case JournalCode::unsteady:
      case JournalCode::unsettled:
      case JournalCode::start_saturated:
        result.why = e.code;
        result.kind = static_cast<FindingKind>(e.detail);
        result.value_permille = 1000 * e.value / finger;
        state_size(result, e, finger);
        break;
      case JournalCode::seen_from:
        result.stated_permille = 1000 * e.value / finger;
        result.untold = e.limit > engine.limits().smooth_most;
        break;
      case JournalCode::glass_bare:
        result.bare_permille = 1000 * e.value / finger;
        state_size(result, e, finger);
        break;
      default:
        break;
    }
  }
}

}  // namespace

StartResult play_start(std::uint64_t seed, Known known, bool with_object,
                       const std::string& panel_folder) {
  Draw draw(seed * 8 + static_cast<std::uint64_t>(known) * 2 + (with_object ? 1 : 0));
  Played p = draw_start(seed, known, draw, panel_folder);
  panel::Scenario& s = p.panel.scenario;
  field::SurfaceKernels kernels = panel::kernels_of(s.panel, s.panel_path);
  const double node_ff =
      panel::GlassModel(s.panel, kernels, {s.setup.rows, s.setup.columns}).numbers().node;
  s.setup.front_end.spread_ff = p.start.spread_permille / 1000 * node_ff;
  panel::SimulatedPanel simulated(s.panel, std::move(kernels), s.setup);
  p.start.with_object = with_object;
  if (with_object) p.now.conductors.push_back(draw_object(p, draw));

  StartResult result;
  const double finger = simulated.finger_counts();
  p.start.noise_permille =
      1000 * s.setup.front_end.noise_ff * s.setup.front_end.counts_per_ff / finger;
  if (with_object) result.object_permille = 1000 * largest_change(simulated, p) / finger;
  const std::vector<std::uint16_t> reference = reference_of(p, simulated, draw);

  Settings settings;
  settings.shape = {s.setup.rows, s.setup.columns};
  settings.finger_counts = static_cast<std::uint16_t>(finger);
  settings.pitch_row_um = static_cast<std::uint16_t>(std::lround(s.panel.rows.pitch_mm * 1000));
  settings.pitch_col_um = static_cast<std::uint16_t>(std::lround(s.panel.columns.pitch_mm * 1000));
  settings.frame_period_us = p.period_us;
  const auto storage = std::make_unique<Storage<kMostLines, kMostLines>>();
  Engine engine(storage->memory());
  const bool none = known == Known::nothing;
  if (engine.configure(settings, {reference.data(), none ? 0 : reference.size()}) !=
      SettingsField::none)
    return result;
  engine.power_up(0);
  std::vector<std::uint16_t> counts;
  for (std::uint32_t n = 0; n * 1e-6 * p.period_us < kLongest_s && !result.decided; ++n) {
    const std::uint64_t t_us = p.first_us + static_cast<std::uint64_t>(n) * p.period_us;
    simulated.scan(counts, p.now, t_us);
    settle(counts, p.start, n * 1e-3 * p.period_us);
    engine.step({counts.data(), settings.shape, n, t_us});
    result.on = engine.input_on();
    result.decided = result.on || engine.state() == InputState::off;
  }
  read_journal(result, engine, finger);
  result.start = p.start;
  return result;
}

}  // namespace bareglass::score
