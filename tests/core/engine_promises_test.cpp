// What holds for the engine whatever it is fed: every decision has its evidence, and nothing breaks
// its promises.
#include <gtest/gtest.h>

#include <cstdint>
#include <cstdlib>
#include <functional>
#include <memory>
#include <random>
#include <set>
#include <utility>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/device.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::PanelSpec;

PanelSpec panel() {
  PanelSpec p;
  p.seed = 81;
  return p;
}

// --- evidence ------------------------------------------------------------------------------------

bool must_reach_its_limit(JournalCode code) {
  switch (code) {
    case JournalCode::glass_not_bare:
    case JournalCode::unsteady:
    case JournalCode::input_off:
    case JournalCode::adopted:
    case JournalCode::service_entered:
    case JournalCode::finding_began:
    case JournalCode::contact_judged:
    case JournalCode::object_lifted:
    case JournalCode::baseline_disproved:
    case JournalCode::phantom_held_back:
      return true;
    default:
      return false;
  }
}

void expect_evidence(const Device& device, const char* story) {
  for (const JournalEntry& e : device.entries()) {
    if (must_reach_its_limit(e.code)) {
      EXPECT_GE(std::abs(e.value), e.limit) << story << ", code " << static_cast<int>(e.code);
      EXPECT_GT(e.limit, 0) << story << ", code " << static_cast<int>(e.code);
      EXPECT_NE(e.row, kNoLine) << story << ", code " << static_cast<int>(e.code);
    }
    if (e.code == JournalCode::glass_bare) {
      EXPECT_LT(e.value, e.limit) << story;
    }
  }
}

TEST(EveryDecision, CarriesAValueBeyondItsLimitAndAPlace) {
  const std::pair<const char*, std::function<void(support::EffectScene&)>> things[] = {
      {"finger", [](support::EffectScene& s) { s.add_finger(6, 4); }},
      {"note", [](support::EffectScene& s) { s.add_film(6, 11, 3, 6, 66); }},
      {"weak film", [](support::EffectScene& s) { s.add_film(6, 11, 3, 6, -20); }},
      {"streak", [](support::EffectScene& s) { s.add_diagonal_streak(5, 2, 5); }},
      {"lone node", [](support::EffectScene& s) { s.add_node(8, 5, -80); }},
      {"bezel", [](support::EffectScene& s) { s.add_wet_top_bezel(1, 8, -28); }}};
  for (const auto& [name, put] : things)
    for (const bool reference : {false, true})
      for (const StartPolicy policy :
           {StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt, StartPolicy::service}) {
        Device at_start(panel(), reference, [policy = policy](Settings& s) { s.policy = policy; });
        put(at_start.scene);
        at_start.power_up();
        at_start.run_ms(3000);
        at_start.scene.clear();
        at_start.run_ms(4000);
        expect_evidence(at_start, name);
        EXPECT_EQ(at_start.touches, 0) << name;
        EXPECT_EQ(at_start.broken_promises, 0) << name;
        Device later(panel(), reference, [policy = policy](Settings& s) { s.policy = policy; });
        later.power_up();
        later.run_ms(1000);
        put(later.scene);
        later.run_ms(32000);
        later.scene.clear();
        later.run_ms(4000);
        expect_evidence(later, name);
        EXPECT_EQ(later.broken_promises, 0) << name;
      }
}

// --- anything at all -----------------------------------------------------------------------------

class Random {
 public:
  explicit Random(std::uint32_t seed) : engine_(seed) {}
  std::uint32_t operator()() { return static_cast<std::uint32_t>(engine_()); }

 private:
  std::mt19937 engine_;
};

Settings random_settings(Random& random, Shape shape) {
  Settings s;
  do {
    s = Settings{};
    s.shape = shape;
    s.finger_counts = static_cast<std::uint16_t>(16 + random() % 19985);
    s.counts_rise = random() % 2 == 0;
    s.policy = static_cast<StartPolicy>(random() % 4);
    s.pitch_row_um = static_cast<std::uint16_t>(1000 + random() % 19001);
    s.neighbour_permille = static_cast<std::uint16_t>(50 + random() % 851);
    s.quiet_permille = static_cast<std::uint16_t>(5 + random() % 296);
    s.touch_on_permille = static_cast<std::uint16_t>(50 + random() % 1451);
    s.touch_off_permille = static_cast<std::uint16_t>(20 + random() % 200);
    s.surface_permille = static_cast<std::uint16_t>(5 + random() % 200);
    s.smooth_permille = static_cast<std::uint16_t>(20 + random() % 1481);
    s.unsteady_permille = static_cast<std::uint16_t>(20 + random() % 2981);
    s.debounce_down = static_cast<std::uint8_t>(1 + random() % 20);
    s.debounce_up = static_cast<std::uint8_t>(1 + random() % 20);
    s.sample_frames = static_cast<std::uint8_t>(4 + random() % 22);
    s.track_ms = random() % 3 == 0 ? 0 : 100 + random() % 5000;
    s.surface_ms = random() % 300;
    s.palm_ms = random() % 3000;
    s.held_ms = 1000 + random() % 500;
    s.clear_ms = random() % 300;
    s.retry_ms = 10 + random() % 300;
    s.settle_ms = random() % 100;
    s.held_jitter_q8 = static_cast<std::uint16_t>(1 + random() % 512);
    s.saturated_permille = 1000;
  } while (validate(s) != SettingsField::none);
  return s;
}

/// Noise of any size over a level, or nonsense.
std::vector<std::uint16_t> random_frame(Random& random, std::size_t nodes, std::uint32_t mood) {
  std::vector<std::uint16_t> raw(nodes);
  for (auto& v : raw) {
    if (mood == 0) v = static_cast<std::uint16_t>(random());
    if (mood == 1) v = static_cast<std::uint16_t>(30000 + random() % 50);
    if (mood == 2) v = static_cast<std::uint16_t>(random() % 2 ? 17 : 65518);
    if (mood == 3) v = static_cast<std::uint16_t>(random() % 8 ? 30000 : 30000 - random() % 5000);
  }
  return raw;
}

TEST(EngineFedWithAnything, KeepsItsPromises) {
  const std::uint32_t seed = 37001;
  Random random(seed);
  auto storage = std::make_unique<Storage<kMaxLines, kMaxLines>>();
  Engine engine(storage->memory());
  std::set<InputState> states;
  std::uint32_t down = 0;  // what a life leaves down the first step of the next one lifts
  for (int round = 0; round < 250; ++round) {
    SCOPED_TRACE(::testing::Message() << "seed " << seed << ", round " << round);
    const Shape shape{2 + static_cast<int>(random() % 20), 2 + static_cast<int>(random() % 20)};
    const auto nodes = static_cast<std::size_t>(shape.nodes());
    const std::vector<std::uint16_t> level = random_frame(random, nodes, 1);
    const View<const std::uint16_t> reference{level.data(), random() % 2 ? nodes : 0};
    ASSERT_EQ(engine.configure(random_settings(random, shape), reference), SettingsField::none);
    std::uint64_t t_us = random() % 3 ? random() : 0;
    if (random() % 4)
      engine.power_up(t_us);
    else
      engine.join_midway({level.data(), nodes}, t_us);
    std::uint32_t mood = 1;
    for (std::uint32_t k = 0; k < 300; ++k) {
      if (random() % 20 == 0) mood = random() % 4;
      const std::vector<std::uint16_t> raw = random_frame(random, nodes, mood);
      t_us += random() % 20000;
      engine.step({raw.data(), shape, k, t_us});
      states.insert(engine.state());
      std::uint32_t seen = 0, now = 0;
      for (const Contact& c : engine.contacts()) {
        ASSERT_LT(c.id, kMaxContacts);
        ASSERT_FALSE(seen & (1u << c.id));
        seen |= 1u << c.id;
        if (c.tip) now |= 1u << c.id;
        ASSERT_TRUE(c.tip || (down & (1u << c.id))) << "lifted unseen, frame " << k;
      }
      ASSERT_EQ(down & ~seen, 0u) << "vanished, frame " << k;
      ASSERT_TRUE(now == 0 || engine.input_on());
      down = now;
    }
  }
  EXPECT_EQ(states.size(), 7u) << "every state but unpowered";
}

/// Every setting at an end of its range or somewhere between.
Settings extreme_settings(Random& random, Shape shape) {
  const auto pick = [&](std::uint32_t low, std::uint32_t high) {
    const std::uint32_t n = random() % 3;
    return n == 0 ? low : (n == 1 ? high : low + random() % (high - low + 1));
  };
  const auto pick16 = [&](std::uint32_t low, std::uint32_t high) {
    return static_cast<std::uint16_t>(pick(low, high));
  };
  Settings s;
  s.shape = shape;
  s.finger_counts = random() % 2 ? pick16(16, 130) : pick16(16, 20000);
  s.counts_rise = random() % 2 == 0;
  s.pitch_row_um = pick16(1000, 20000);
  s.pitch_col_um = pick16(1000, 20000);
  s.frame_period_us = pick(500, 1000000);
  s.raw_low = pick16(0, 40);
  s.raw_high = pick16(60000, 65535);
  s.neighbour_permille = pick16(50, 900);
  s.saturated_permille = pick16(1, 1000);
  s.quiet_permille = pick16(5, 300);
  s.touch_on_permille = pick16(s.quiet_permille < 50 ? 50 : s.quiet_permille, 1500);
  s.touch_off_permille = pick16(20, s.touch_on_permille);
  s.debounce_down = static_cast<std::uint8_t>(pick(1, 20));
  s.debounce_up = static_cast<std::uint8_t>(pick(1, 20));
  s.saddle_permille = pick16(300, 1000);
  s.palm_mm2 = pick16(50, 20000);
  s.match_um = pick16(1000, 60000);
  s.track_ms = random() % 4 ? pick(100, 600000) : 0;
  s.slew_permille_s = pick16(1, 2000);
  s.surface_permille = pick16(s.quiet_permille, s.touch_on_permille);
  s.smooth_permille = pick16(s.surface_permille, 1500);
  s.smooth_most_permille = pick16(50, 5000);
  s.unsteady_permille = pick16(20, 3000);
  s.surface_ms = random() % 2 ? 0 : pick(0, 60000);
  s.held_ms = pick(1000, 600000);
  s.held_jitter_q8 = pick16(1, 512);
  s.policy = static_cast<StartPolicy>(random() % 4);
  s.settle_ms = random() % 2 ? 0 : pick(0, 10000);
  s.sample_frames = static_cast<std::uint8_t>(pick(4, 25));
  s.retry_ms = pick(10, 60000);
  s.wait_ms = random() % 2 ? 0 : pick(100, 3600000);
  s.clear_ms = pick(0, 60000);
  return s;
}

/// A level without any noise, patches of a few counts on it, whole lines at an end of the range.
std::vector<std::uint16_t> still_frame(Random& random, Shape shape, std::uint32_t mood) {
  const auto nodes = static_cast<std::size_t>(shape.nodes());
  const auto level = static_cast<std::uint16_t>(mood == 3 ? 65535 : 30000);
  std::vector<std::uint16_t> raw(nodes, level);
  if (mood == 0) return raw;
  const int by = mood == 1 ? 1 + static_cast<int>(random() % 40) : 30000;
  const int row0 = static_cast<int>(random()) & 7;
  const int sign = random() % 2 ? 1 : -1;
  for (int r = row0; r < shape.rows && r < row0 + 4; ++r)
    for (int c = 0; c < shape.cols - 1; ++c)
      raw[static_cast<std::size_t>(r * shape.cols + c)] =
          static_cast<std::uint16_t>(30000 + sign * by);
  return raw;
}

TEST(EngineAtTheEndsOfItsSettings, DividesByNothingAndKeepsItsCountsInRange) {
  const std::uint32_t seed = 37002;
  Random random(seed);
  auto storage = std::make_unique<Storage<kMaxLines, kMaxLines>>();
  Engine engine(storage->memory());
  std::set<InputState> states;
  std::set<FindingKind> kinds;
  for (int round = 0; round < 1500; ++round) {
    SCOPED_TRACE(::testing::Message() << "seed " << seed << ", round " << round);
    const Shape shape{2 + static_cast<int>(random() % 14), 2 + static_cast<int>(random() % 14)};
    const auto nodes = static_cast<std::size_t>(shape.nodes());
    const std::vector<std::uint16_t> level(nodes, 30000);
    const Settings s = extreme_settings(random, shape);
    ASSERT_EQ(validate(s), SettingsField::none) << name_of(validate(s));
    const View<const std::uint16_t> reference{level.data(), random() % 2 ? nodes : 0};
    ASSERT_EQ(engine.configure(s, reference), SettingsField::none);
    std::uint64_t t_us = random() % 100;
    engine.power_up(t_us);
    std::vector<std::uint16_t> raw = still_frame(random, shape, random() % 2);
    for (std::uint32_t k = 0; k < 80; ++k) {
      if (random() % 25 == 0)
        raw = random() % 4 ? still_frame(random, shape, random() % 4)
                           : random_frame(random, nodes, random() % 4);
      t_us += random() % 4 ? s.frame_period_us : random() % 3000000;
      engine.step({raw.data(), shape, k, t_us});
      states.insert(engine.state());
      for (const Finding& f : engine.findings()) {
        kinds.insert(f.kind);
        ASSERT_LE(f.confidence, 1000);
        ASSERT_LT(f.box.row1, shape.rows);
        ASSERT_LT(f.box.col1, shape.cols);
      }
      ASSERT_GE(engine.panel_sigma_q4(), 0);
    }
  }
  EXPECT_EQ(states.size(), 7u) << "every state but unpowered";
  EXPECT_TRUE(kinds.count(FindingKind::faint_film)) << "which is looked for by a division";
}

}  // namespace
}  // namespace bareglass
