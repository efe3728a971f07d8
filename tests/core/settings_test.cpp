#include "bareglass/core/settings.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <functional>
#include <initializer_list>
#include <set>
#include <string>
#include <vector>

#include "bareglass/core/conditioning.hpp"
#include "bareglass/core/storage.hpp"

namespace bareglass {
namespace {

Settings valid() {
  Settings s;
  s.shape = {16, 10};
  return s;
}

/// One field, the ends of its documented range, and values just outside.
struct FieldCase {
  SettingsField field;
  std::function<void(Settings&, std::int64_t)> set;
  std::vector<std::int64_t> accepted;
  std::vector<std::int64_t> refused;
};

#define BAREGLASS_SET(name) \
  [](Settings& s, std::int64_t v) { s.name = static_cast<decltype(s.name)>(v); }

// Ranges as written beside the fields in settings.hpp. touch_on is 300, touch_off 200, quiet 60,
// surface 80 and smooth 200 while another field is tried.
std::vector<FieldCase> field_cases() {
  using F = SettingsField;
  return {
      {F::shape, BAREGLASS_SET(shape.rows), {2, 128}, {-1, 0, 1, 129}},
      {F::shape, BAREGLASS_SET(shape.cols), {2, 128}, {-1, 0, 1, 129}},
      {F::finger_counts, BAREGLASS_SET(finger_counts), {16, 20000}, {0, 15, 20001}},
      {F::pitch_row_um, BAREGLASS_SET(pitch_row_um), {1000, 20000}, {999, 20001}},
      {F::pitch_col_um, BAREGLASS_SET(pitch_col_um), {1000, 20000}, {999, 20001}},
      {F::frame_period_us, BAREGLASS_SET(frame_period_us), {500, 1000000}, {0, 499, 1000001}},
      {F::raw_high, BAREGLASS_SET(raw_high), {17, 65535}, {0, 16}},
      {F::neighbour_permille, BAREGLASS_SET(neighbour_permille), {50, 900}, {49, 901}},
      {F::saturated_permille, BAREGLASS_SET(saturated_permille), {1, 1000}, {0, 1001}},
      {F::quiet_permille, BAREGLASS_SET(quiet_permille), {5, 80}, {0, 4, 301}},
      {F::touch_on_permille, BAREGLASS_SET(touch_on_permille), {200, 1500}, {49, 1501}},
      {F::touch_off_permille, BAREGLASS_SET(touch_off_permille), {20, 300}, {19, 301}},
      {F::debounce_down, BAREGLASS_SET(debounce_down), {1, 20}, {0, 21}},
      {F::debounce_up, BAREGLASS_SET(debounce_up), {1, 20}, {0, 21}},
      {F::saddle_permille, BAREGLASS_SET(saddle_permille), {300, 1000}, {299, 1001}},
      {F::palm_mm2, BAREGLASS_SET(palm_mm2), {50, 20000}, {49, 20001}},
      {F::match_um, BAREGLASS_SET(match_um), {1000, 60000}, {999, 60001}},
      {F::track_ms, BAREGLASS_SET(track_ms), {0, 100, 600000}, {1, 99, 600001}},
      {F::slew_permille_s, BAREGLASS_SET(slew_permille_s), {1, 2000}, {0, 2001}},
      {F::surface_permille, BAREGLASS_SET(surface_permille), {60, 200}, {59, 301}},
      {F::smooth_permille, BAREGLASS_SET(smooth_permille), {80, 1500}, {79, 1501}},
      {F::smooth_most_permille, BAREGLASS_SET(smooth_most_permille), {50, 5000}, {0, 49, 5001}},
      {F::unsteady_permille, BAREGLASS_SET(unsteady_permille), {20, 3000}, {19, 3001}},
      {F::surface_ms, BAREGLASS_SET(surface_ms), {0, 60000}, {60001}},
      {F::palm_ms, BAREGLASS_SET(palm_ms), {0, 600000}, {600001}},
      {F::held_ms, BAREGLASS_SET(held_ms), {1000, 600000}, {999, 600001}},
      {F::held_jitter_q8, BAREGLASS_SET(held_jitter_q8), {1, 512}, {0, 513}},
      {F::policy, BAREGLASS_SET(policy), {0, 3}, {4, 255}},
      {F::settle_ms, BAREGLASS_SET(settle_ms), {0, 10000}, {10001}},
      {F::sample_frames, BAREGLASS_SET(sample_frames), {4, 25}, {0, 3, 26}},
      {F::retry_ms, BAREGLASS_SET(retry_ms), {10, 60000}, {9, 60001}},
      {F::wait_ms, BAREGLASS_SET(wait_ms), {0, 100, 3600000}, {1, 99, 3600001}},
      {F::clear_ms, BAREGLASS_SET(clear_ms), {0, 60000}, {60001}},
  };
}
#undef BAREGLASS_SET

TEST(DefaultSettings, AreValidOnceTheShapeIsSet) {
  EXPECT_EQ(validate(Settings{}), SettingsField::shape);
  EXPECT_EQ(validate(valid()), SettingsField::none);
}

TEST(EveryField, TakesItsWholeRangeAndIsNamedOutsideIt) {
  for (const FieldCase& c : field_cases()) {
    for (const std::int64_t v : c.accepted) {
      Settings s = valid();
      c.set(s, v);
      EXPECT_EQ(validate(s), SettingsField::none) << name_of(c.field) << " = " << v;
    }
    for (const std::int64_t v : c.refused) {
      Settings s = valid();
      c.set(s, v);
      EXPECT_EQ(validate(s), c.field) << name_of(c.field) << " = " << v;
    }
  }
}

TEST(EveryField, IsTriedAboveAndHasANameOfItsOwn) {
  std::set<SettingsField> tried;
  for (const FieldCase& c : field_cases()) tried.insert(c.field);
  std::set<std::string> names;
  for (int f = 1; f <= static_cast<int>(SettingsField::clear_ms); ++f) {
    EXPECT_EQ(tried.count(static_cast<SettingsField>(f)), 1u) << "field " << f;
    names.insert(name_of(static_cast<SettingsField>(f)));
  }
  EXPECT_EQ(names.size(), static_cast<std::size_t>(SettingsField::clear_ms));
  EXPECT_STREQ(name_of(SettingsField::none), "none");
  EXPECT_STREQ(name_of(SettingsField::touch_off_permille), "touch_off_permille");
  EXPECT_STREQ(name_of(SettingsField::clear_ms), "clear_ms");
}

TEST(LimitsOfSettings, AreTheDocumentedCounts) {
  Settings s = valid();  // finger 3500 counts, 8 ms frames
  const Limits l = limits_of(s);
  EXPECT_EQ(l.quiet, 210);
  EXPECT_EQ(l.touch_on, 1050);
  EXPECT_EQ(l.touch_off, 700);
  EXPECT_EQ(l.surface, 280);
  EXPECT_EQ(l.smooth, 700);
  EXPECT_EQ(l.unsteady, 700);
  EXPECT_EQ(l.smooth_most, 1925);
  EXPECT_EQ(l.track_turns, 1u);
  EXPECT_EQ(l.track_lambda_q16, 524);  // four frames, 32 ms / 4 s * 65536
  EXPECT_EQ(l.slew_q8, 1434);          // 5 % of 3500 counts per second, 32 ms: 5.6 counts
  EXPECT_EQ(l.palm_nodes, 32);         // 800 mm² / 25 mm²
  s.track_ms = 0;
  EXPECT_EQ(limits_of(s).track_lambda_q16, 0);
}

/// The time after which a baseline has followed 1 - 1/e of a step of `counts`, s, by the very loop
/// of the core, one node and one frame after another.
double followed_after_s(const Settings& s, int counts) {
  const Limits l = limits_of(s);
  const TrackRate rate{l.track_lambda_q16, l.slew_q8, 32000, false};
  BaselineQ8 baseline = 20000u << 8;
  const double target = 20000.0 + counts * 0.632;
  for (std::uint32_t turn = 1;; ++turn) {
    if (turn % l.track_turns != 0) continue;
    const auto d =
        static_cast<std::int16_t>(static_cast<int>((baseline + 128) >> 8) - (20000 + counts));
    track_row({&baseline, 1}, {&d, 1}, rate);
    const double now = baseline / 256.0;
    const double after = static_cast<double>(turn) * kRowTurns * s.frame_period_us * 1e-6;
    if (now >= target || after > 3000) return after;
  }
}

TEST(BaselineTracking, KeepsItsTimeConstantHoweverShortTheFrames) {
  for (const std::uint32_t period_us : {500u, 2000u, 8000u, 20000u, 1000000u})
    for (const std::uint32_t track_ms : {4000u, 30000u, 120000u, 600000u}) {
      Settings s = valid();
      s.frame_period_us = period_us;
      s.track_ms = track_ms;
      s.slew_permille_s = 2000;
      ASSERT_EQ(validate(s), SettingsField::none);
      const double wanted = track_ms / 1000.0;
      // Steps of one period of all rows, and the last half of a count, lie between.
      const double turn_s = kRowTurns * period_us * 1e-6;
      EXPECT_NEAR(followed_after_s(s, 100), wanted, 0.05 * wanted + turn_s)
          << period_us << " us, " << track_ms << " ms";
    }
}

TEST(BaselineTracking, KeepsItsSlewLimitHoweverShortTheFrames) {
  for (const std::uint32_t period_us : {500u, 8000u, 1000000u})
    for (const std::uint16_t finger : std::initializer_list<std::uint16_t>{16, 3500, 20000})
      for (const std::uint16_t slew : std::initializer_list<std::uint16_t>{1, 50, 2000}) {
        Settings s = valid();
        s.frame_period_us = period_us;
        s.finger_counts = finger;
        s.slew_permille_s = slew;
        const Limits l = limits_of(s);
        const double wanted = finger * slew / 1000.0;  // counts per second
        const double move_s = kRowTurns * period_us * 1e-6 * l.track_turns;
        EXPECT_NEAR(l.slew_q8 / 256.0 / move_s, wanted, 0.13 * wanted)
            << period_us << " us, finger " << finger << ", " << slew << " permille";
      }
}

TEST(LimitsOfSettings, StayUsableAtTheWeakestPanel) {
  Settings s = valid();
  s.finger_counts = 16;
  s.quiet_permille = 5;
  s.surface_permille = 5;
  s.smooth_permille = 5;
  s.touch_on_permille = 50;
  s.touch_off_permille = 20;
  s.slew_permille_s = 1;
  s.frame_period_us = 500;
  s.pitch_row_um = s.pitch_col_um = 20000;
  s.palm_mm2 = 50;
  ASSERT_EQ(validate(s), SettingsField::none);
  const Limits l = limits_of(s);
  // find_regions needs a limit of at least one count; with 0 every node would be a region.
  EXPECT_GE(l.quiet, 1);
  EXPECT_GE(l.unsteady, 1);
  EXPECT_GE(l.surface, 1);
  EXPECT_GE(l.smooth, 1);
  EXPECT_GE(l.touch_off, 1);
  EXPECT_GE(l.touch_on, 1);
  EXPECT_GE(l.slew_q8, 1);
  EXPECT_EQ(l.palm_nodes, 2);
}

TEST(LimitsOfSettings, FitSixteenBitsAtTheStrongestPanel) {
  Settings s = valid();
  s.finger_counts = 20000;
  s.touch_on_permille = s.smooth_permille = 1500;
  s.frame_period_us = 1000000;
  s.slew_permille_s = 2000;
  s.palm_mm2 = 20000;
  s.pitch_row_um = s.pitch_col_um = 1000;
  ASSERT_EQ(validate(s), SettingsField::none);
  const Limits l = limits_of(s);
  EXPECT_EQ(l.touch_on, 30000);
  EXPECT_EQ(l.smooth, 30000);
  EXPECT_EQ(l.slew_q8, 40960000);
  EXPECT_EQ(l.palm_nodes, 20000);
}

}  // namespace
}  // namespace bareglass
