// What holds for the engine whatever it is fed: refused frames change nothing, history is
// forgotten, sizes and signs make no difference, every decision has its evidence, and nothing it is
// fed breaks it.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <functional>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;
using support::PanelSpec;

template <typename T>
std::vector<T> copy(View<const T> v) {
  return {v.begin(), v.end()};
}

/// Everything an engine shows, as one list of numbers; but for the contacts that the frame lifted,
/// which are told once. `ids`: of contacts as well.
std::vector<std::int64_t> all_of(const Engine& e, bool ids = true) {
  std::vector<std::int64_t> out = {static_cast<std::int64_t>(e.state()), e.panel_sigma_q4(),
                                   e.region_limit()};
  for (const std::int16_t d : e.difference()) out.push_back(d);
  const bool trusted = e.input_on() || e.state() == InputState::paused;
  if (trusted) {
    for (const BaselineQ8 b : e.baseline_q8()) out.push_back(b);
    for (const std::uint16_t r : e.roughness_q4()) out.push_back(r);
  }
  for (const Contact& c : e.contacts())
    if (c.tip)
      out.insert(out.end(), {ids ? c.id : 0, c.tip, c.confidence, c.x_q8, c.y_q8, c.strength,
                             static_cast<std::int64_t>(c.since_us)});
  for (const Finding& f : e.findings())
    out.insert(
        out.end(),
        {static_cast<int>(f.kind), f.confirmed, f.in_baseline, f.gone, f.box.row0, f.box.row1,
         f.box.col0, f.box.col1, f.peak_row, f.peak_col, f.nodes, f.peak, f.first_peak, f.mean,
         f.opposite, static_cast<std::int64_t>(f.first_us), static_cast<std::int64_t>(f.last_us)});
  return out;
}

std::vector<std::int64_t> numbers_of(const JournalEntry& e) {
  return {static_cast<std::int64_t>(e.t_us),
          e.value,
          e.limit,
          static_cast<int>(e.code),
          e.detail,
          e.row,
          e.col};
}

std::vector<std::int64_t> journal_from(const Engine& e, std::uint32_t first) {
  std::vector<std::int64_t> out;
  for (std::uint32_t n = std::max(first, e.journal().first()); n < e.journal().end(); ++n) {
    const std::vector<std::int64_t> v = numbers_of(e.journal().at(n));
    out.insert(out.end(), v.begin(), v.end());
  }
  return out;
}

PanelSpec panel(std::uint64_t seed = 81) {
  PanelSpec p;
  p.seed = seed;
  return p;
}

/// Ten seconds with a bit of everything.
void play_something(Device& device) {
  device.run_ms(1500);
  device.scene.add_finger(4, 3);
  device.run_ms(500);
  device.scene.add_finger(9.3, 6.2);
  device.run_ms(500);
  device.scene.clear();
  device.scene.add_diagonal_streak(5, 2, 5);
  device.run_ms(3000);
  device.scene.clear();
  for (int r = 0; r < 16; r += 2)
    for (int c = 0; c < 10; c += 2) device.scene.add_node(r, c, -30);
  device.run_ms(100);
}

// --- refused frames ------------------------------------------------------------------------------

struct RefusedCase {
  const char* name;
  FrameStatus status;
  std::function<StepResult(Device&)> feed;
};

const RefusedCase kRefused[] = {
    {"another shape", FrameStatus::wrong_shape,
     [](Device& d) {
       static const std::vector<std::uint16_t> raw(300, 1);
       return d.engine.step({raw.data(), {15, 20}, d.sequence + 1, d.t_us + 1000});
     }},
    {"repeated", FrameStatus::repeated,
     [](Device& d) {
       static const std::vector<std::uint16_t> raw(160, 20000);
       return d.engine.step({raw.data(), {16, 10}, d.sequence, d.t_us});
     }},
    {"backward", FrameStatus::stamp_backward,
     [](Device& d) {
       static const std::vector<std::uint16_t> raw(160, 20000);
       return d.engine.step({raw.data(), {16, 10}, d.sequence + 1, d.t_us - 1});
     }},
    {"saturated", FrameStatus::saturated,
     [](Device& d) {
       static const std::vector<std::uint16_t> raw(160, 65535);
       d.t_us += 20000;
       return d.engine.step({raw.data(), {16, 10}, ++d.sequence, d.t_us});
     }},
};

TEST(RefusedFrame, ChangesNothingInAnyState) {
  for (const RefusedCase& refused : kRefused) {
    Device device(panel(), true, [](Settings& s) { s.policy = StartPolicy::wait; });
    device.power_up();
    std::set<InputState> states;
    const auto try_now = [&] {
      const std::vector<std::int64_t> before = all_of(device.engine);
      const StepResult result = refused.feed(device);
      EXPECT_EQ(result.status, refused.status) << refused.name;
      EXPECT_FALSE(result.state_changed || result.looked);
      ASSERT_EQ(all_of(device.engine), before) << refused.name;
      states.insert(device.engine.state());
    };
    for (int k = 0; k < 200; ++k) {
      if (k == 40) device.scene.add_finger(5, 5);
      if (k == 60) device.scene.add_film(9, 14, 2, 7, 30);
      device.step();
      if (k % 3 == 0) try_now();
    }
    EXPECT_EQ(states.size(), 4u) << "settling, looking, running, paused";
  }
}

// Two of the three are frames in which a contact is missing: one more than that are needed to lift.
TEST(RefusedFrame, LeavesNoTraceInWhatFollows) {
  const auto patient = [](Settings& s) { s.debounce_up = 3; };
  Device plain(panel(), true, patient);
  Device pestered(panel(), true, patient);
  plain.power_up();
  pestered.power_up();
  for (int k = 0; k < 300; ++k) {
    if (k == 100) {
      plain.scene.add_finger(5, 5);
      pestered.scene.add_finger(5, 5);
    }
    plain.step();
    pestered.step();
    for (int r = 0; r < 3; ++r) kRefused[r].feed(pestered);
    ASSERT_EQ(all_of(plain.engine), all_of(pestered.engine)) << "frame " << k;
  }
}

// --- history -------------------------------------------------------------------------------------

TEST(EngineWithAHistory, IsAsGoodAsNewAfterPowerUp) {
  Device fresh(panel(), true);
  Device used(panel(), true, [](Settings& s) { s.policy = StartPolicy::wait; });
  used.power_up();
  play_something(used);
  ASSERT_EQ(used.engine.configure(fresh.engine.settings(), {}), SettingsField::none);
  ASSERT_EQ(fresh.engine.configure(fresh.engine.settings(), {}), SettingsField::none);
  fresh.t_us = used.t_us;
  used.scene = fresh.scene;
  fresh.power_up();
  const std::uint32_t first = used.engine.journal().end();
  used.power_up();
  for (int k = 0; k < 400; ++k) {
    if (k == 60 || k == 110) {
      fresh.scene.add_diagonal_streak(8, 3, 4);
      used.scene.add_diagonal_streak(8, 3, 4);
    }
    fresh.step();
    used.step();
    ASSERT_EQ(all_of(fresh.engine), all_of(used.engine)) << "frame " << k;
  }
  EXPECT_EQ(journal_from(fresh.engine, 0), journal_from(used.engine, first + 0));
}

struct ThingOnIt {
  const char* name;
  void (*put)(support::EffectScene&);
};

void PrintTo(const ThingOnIt& thing, std::ostream* out) { *out << thing.name; }

class EngineThatJoinsMidway : public ::testing::TestWithParam<ThingOnIt> {};

// The last thing the old life saw is the first that the new one sees: nothing of it may count as
// known.
TEST_P(EngineThatJoinsMidway, ForgetsWhatItSawBefore) {
  const auto settings = [](Settings& s) {
    s.policy = StartPolicy::wait;
    s.unsteady_permille = 3000;
  };
  PanelSpec noisy = panel(82);
  noisy.noise_ff = 3;
  Device fresh(panel(), false, settings);
  Device used(noisy, false, settings);
  used.power_up();
  ASSERT_TRUE(used.run_until(InputState::running, 1000));
  GetParam().put(used.scene);
  used.run_ms(300);
  fresh.t_us = used.t_us;
  used.scene = fresh.scene;
  const std::vector<std::uint16_t> baseline = fresh.scene.reference();
  fresh.engine.join_midway({baseline.data(), baseline.size()}, fresh.t_us);
  const std::uint32_t first = used.engine.journal().end();
  used.engine.join_midway({baseline.data(), baseline.size()}, used.t_us);
  used.sequence = fresh.sequence;
  GetParam().put(fresh.scene);
  GetParam().put(used.scene);
  for (int k = 0; k < 200; ++k) {
    fresh.step();
    used.step();
    // The old life's finger is lifted by this life's first frame, and keeps its number for it.
    ASSERT_EQ(all_of(fresh.engine, false), all_of(used.engine, false)) << "frame " << k;
  }
  EXPECT_EQ(journal_from(fresh.engine, 0), journal_from(used.engine, first));
}

INSTANTIATE_TEST_SUITE_P(
    With, EngineThatJoinsMidway,
    ::testing::Values(ThingOnIt{"finger", [](support::EffectScene& s) { s.add_finger(6, 4); }},
                      ThingOnIt{"streak",
                                [](support::EffectScene& s) { s.add_diagonal_streak(5, 2, 5); }},
                      ThingOnIt{"mess",
                                [](support::EffectScene& s) {
                                  for (int r = 0; r < 16; r += 2)
                                    for (int c = 0; c < 10; c += 2) s.add_node(r, c, -30);
                                }}),
    [](const auto& one) { return std::string(one.param.name); });

// --- sizes and signs -----------------------------------------------------------------------------

TEST(PanelSmallerThanItsStorage, BehavesAsInAStorageOfItsOwn) {
  Device large(panel(), true);  // 128 x 128
  auto own = std::make_unique<Storage<16, 10>>();
  Engine small(own->memory());
  const std::vector<std::uint16_t> reference = large.scene.reference();
  ASSERT_EQ(small.configure(large.engine.settings(), {reference.data(), reference.size()}),
            SettingsField::none);
  small.power_up(large.t_us);
  large.power_up();
  for (int k = 0; k < 300; ++k) {
    if (k == 50) large.scene.add_finger(6.3, 4.1);
    if (k == 100) large.scene.add_film(10, 14, 2, 7, 40);
    const std::vector<std::uint16_t> raw = large.scene.frame();
    large.step(raw);
    small.step({raw.data(), {16, 10}, large.sequence, large.t_us});
    ASSERT_EQ(all_of(large.engine), all_of(small)) << "frame " << k;
  }
}

class PanelOfExtremeSize : public ::testing::TestWithParam<Shape> {};

TEST_P(PanelOfExtremeSize, StartsAndFindsAFinger) {
  PanelSpec spec = panel();
  spec.shape = GetParam();
  Device device(spec, true);
  device.power_up();
  ASSERT_TRUE(device.run_until(InputState::running, 1000));
  const double row = spec.shape.rows - 1;
  const double col = spec.shape.cols - 1;
  device.scene.add_finger(row, col);
  device.run_ms(200);
  ASSERT_EQ(device.engine.contacts().size, 1u);
  EXPECT_NEAR(device.engine.contacts()[0].y_q8 / 256.0, row, 0.2);
  EXPECT_NEAR(device.engine.contacts()[0].x_q8 / 256.0, col, 0.2);
  device.scene.clear();
  device.run_ms(200);
  EXPECT_EQ(device.lifts, 1);
}

INSTANTIATE_TEST_SUITE_P(SmallestAndLargest, PanelOfExtremeSize,
                         ::testing::Values(Shape{2, 2}, Shape{2, 128}, Shape{128, 2},
                                           Shape{128, 128}),
                         support::shape_name);

TEST(PanelWhoseCountsRise, IsTheMirrorImageBitForBit) {
  // Without tracking every baseline is a whole count; a fraction of exactly one half would round
  // upwards on both panels and so not mirror.
  Device falls(panel(), false, [](Settings& s) { s.track_ms = 0; });
  Device rises(panel(), false, [](Settings& s) {
    s.track_ms = 0;
    s.counts_rise = true;
  });
  const auto mirror = [](std::vector<std::uint16_t> v) {
    for (auto& x : v) x = static_cast<std::uint16_t>(65535 - x);
    return v;
  };
  const std::vector<std::uint16_t> baseline = falls.scene.reference();
  const std::vector<std::uint16_t> mirrored = mirror(baseline);
  falls.engine.join_midway({baseline.data(), baseline.size()}, falls.t_us);
  rises.engine.join_midway({mirrored.data(), mirrored.size()}, rises.t_us);
  for (int k = 0; k < 400; ++k) {
    if (k == 50) falls.scene.add_finger(6.3, 4.1);
    if (k == 100) falls.scene.clear();
    if (k == 150) falls.scene.add_diagonal_streak(5, 2, 5);
    const std::vector<std::uint16_t> raw = falls.scene.frame();
    falls.step(raw);
    rises.step(mirror(raw));
    ASSERT_EQ(copy(falls.engine.difference()), copy(rises.engine.difference())) << "frame " << k;
  }
  EXPECT_EQ(journal_from(falls.engine, 0), journal_from(rises.engine, 0));
  ASSERT_EQ(falls.reports.size(), rises.reports.size());
  EXPECT_GT(falls.reports.size(), 40u);
  for (std::size_t i = 0; i < falls.reports.size(); ++i)
    EXPECT_EQ(falls.reports[i].x_q8, rises.reports[i].x_q8);
}

TEST(PanelWhoseCountsRise, StartsTracksAndRefusesAlike) {
  for (const bool rise : {false, true}) {
    Device scene_of(panel(), true);
    auto storage = std::make_unique<Storage<16, 10>>();
    Engine engine(storage->memory());
    std::vector<std::uint16_t> reference = scene_of.scene.reference();
    const auto turn = [rise](std::vector<std::uint16_t>& v) {
      for (auto& x : v) x = static_cast<std::uint16_t>(rise ? 65535 - x : x);
    };
    turn(reference);
    Settings s = scene_of.engine.settings();
    s.counts_rise = rise;
    s.policy = StartPolicy::adopt;
    ASSERT_EQ(engine.configure(s, {reference.data(), reference.size()}), SettingsField::none);
    scene_of.scene.add_film(6, 11, 3, 6, 66);
    engine.power_up(0);
    std::vector<JournalCode> codes;
    for (std::uint32_t k = 1; k < 300; ++k) {
      if (k == 100) scene_of.scene.clear();
      std::vector<std::uint16_t> raw = scene_of.scene.frame();
      turn(raw);
      engine.step({raw.data(), {16, 10}, k, k * 20000});
    }
    for (std::uint32_t n = 0; n < engine.journal().end(); ++n) {
      codes.push_back(engine.journal().at(n).code);
    }
    using C = JournalCode;
    EXPECT_EQ(codes, (std::vector<C>{C::power_up, C::settled, C::finding_began, C::sampled,
                                     C::glass_not_bare, C::adopted, C::input_on,
                                     C::phantom_held_back, C::baseline_disproved, C::finding_ended,
                                     C::sampled, C::glass_bare, C::input_on}))
        << "counts_rise " << rise;
  }
}

}  // namespace
}  // namespace bareglass
