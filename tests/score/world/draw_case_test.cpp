// Cases are the same on every run, leave no kind out, and leave no gap between kinds.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "bareglass/answer/diagnosis.hpp"
#include "panels.hpp"
#include "tally.hpp"
#include "unit.hpp"

namespace bareglass::world {
namespace {

class GeneratedCases : public testing::TestWithParam<int> {
 protected:
  void SetUp() override {
    keep_in(std::string(BAREGLASS_BINARY_DIR) + "/score_kernels",
            std::string(BAREGLASS_SOURCE_DIR) + "/fixtures/panels");
    options_.world = GetParam();
    options_.shipped_panels = true;
  }
  DrawOptions options_;
};

std::vector<std::vector<std::uint16_t>> counts_of(const std::vector<host::Record>& records) {
  std::vector<std::vector<std::uint16_t>> out;
  for (const host::Record& record : records) {
    if (const auto* frame = std::get_if<host::FrameRecord>(&record)) out.push_back(frame->raw);
    if (const auto* known = std::get_if<host::ReferenceRecord>(&record)) out.push_back(known->raw);
  }
  return out;
}

TEST_P(GeneratedCases, AreTheSameOnEveryRunAndDifferFromSeedToSeed) {
  std::vector<std::vector<std::uint16_t>> before;
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    const auto once = counts_of(play(draw_case(seed, options_)));
    ASSERT_FALSE(once.empty());
    EXPECT_EQ(once, counts_of(play(draw_case(seed, options_)))) << "seed " << seed;
    EXPECT_NE(once, before) << "seed " << seed;
    before = once;
  }
}

TEST_P(GeneratedCases, AreJudgedAlikeOnAnyNumberOfThreads) {
  const auto one = judge_cases(40, 8, 1, options_);
  const auto three = judge_cases(40, 8, 3, options_);
  for (std::size_t k = 0; k < one.size(); ++k) {
    EXPECT_EQ(one[k].seed, 40 + k);
    EXPECT_EQ(one[k].said, three[k].said);
    EXPECT_EQ(one[k].right_first, three[k].right_first);
  }
}

bool is_known(const std::string& name) {
  static const std::set<std::string> kLater = {"temperature",     "noise",       "aged_reference",
                                               "unsettled_start", "thick_sheet", "hand"};
  for (int k = 0; k < host::kCauseCount; ++k)
    if (name == host::name_of(static_cast<host::Cause>(k))) return true;
  return kLater.count(name) > 0;
}

TEST_P(GeneratedCases, HoldEveryKindAndSeeItInSomeOfThem) {
  for (int k = 0; k < kKindCount; ++k) {
    const auto kind = static_cast<Kind>(k);
    options_.only = kind;
    int seen = 0;
    for (std::uint64_t seed = 100; seed < 140 && seen == 0; ++seed) {
      const WorldCase c = draw_case(seed, options_);
      if (c.items.empty()) continue;
      ASSERT_EQ(c.items.size(), 1u);
      EXPECT_EQ(c.items[0].kind, kind);
      ASSERT_FALSE(c.items[0].right.empty());
      for (const std::string& name : c.items[0].right)
        EXPECT_TRUE(is_known(name)) << name << " of " << name_of(kind) << ", seed " << seed;
      const auto& right = c.items[0].right;
      seen += std::find(right.begin(), right.end(), "bare_glass") == right.end();
    }
    EXPECT_GE(seen, 1) << name_of(kind);
  }
}

TEST_P(GeneratedCases, AreHealthyInAThird) {
  options_.only_draw = true;
  constexpr int kCases = 90;
  int healthy = 0;
  for (std::uint64_t seed = 500; seed < 500 + kCases; ++seed)
    healthy += draw_case(seed, options_).items.empty();
  // Four sigma of a binomial: 4 sqrt(90 x 1/3 x 2/3) = 18.
  EXPECT_NEAR(healthy, kCases / 3, 18);
}

TEST_P(GeneratedCases, LeaveNoGapInTheSizeOfBodiesNorInTheirWayToEarth) {
  options_.only = Kind::body;
  options_.only_draw = true;
  std::array<int, 6> sizes{};   // of equal factors from 5 to 80 mm
  std::array<int, 4> earths{};  // isolated, up to 60 pF, a person, earthed
  for (std::uint64_t seed = 700; seed < 780; ++seed) {
    const WorldCase c = draw_case(seed, options_);
    if (c.items.empty()) continue;
    const Item& item = c.items[0];
    const double size = std::sqrt(item.area_mm2 * 4 / 3.14159265);
    const double bin = 6 * std::log(size / 5) / std::log(16.0);
    ++sizes[static_cast<std::size_t>(std::clamp(bin, 0.0, 5.0))];
    const panel::ThingSpec& spec = c.scenario.things[item.things[0]];
    const bool earthed = std::isinf(spec.earth_pf) || std::isinf(spec.device_pf);
    ++earths[earthed ? 3 : spec.earth_pf >= 60 ? 2 : spec.earth_pf > 0 ? 1 : 0];
  }
  for (const int n : sizes) EXPECT_GE(n, 3);
  for (const int n : earths) EXPECT_GE(n, 3);
}

INSTANTIATE_TEST_SUITE_P(BothWorlds, GeneratedCases, testing::Values(1, 2),
                         [](const testing::TestParamInfo<int>& world) {
                           return world.param == 1 ? "first" : "second";
                         });

}  // namespace
}  // namespace bareglass::world
