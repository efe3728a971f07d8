#include "bareglass/core/single_frame.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <random>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/gaussian_touch.hpp"

namespace bareglass {
namespace {

using support::DifferenceFrame;

constexpr Shape kPanel{16, 12};
constexpr std::uint16_t kBare = 30000;

/// Two fingers and a palm over bare glass.
class OneFrame : public ::testing::Test {
 protected:
  OneFrame() {
    settings_.shape = kPanel;
    settings_.debounce_down = 1;
    DifferenceFrame frame(kPanel);
    frame.fill(1, 7, 1, 5, 2400).add(11.1, 3.4, 3600).add(11.2, 6.6, 3300);
    difference_ = frame.counts();
    bare_.assign(difference_.size(), kBare);
    for (const std::int16_t d : difference_) raw_.push_back(static_cast<std::uint16_t>(kBare - d));
  }

  View<const std::int16_t> difference() const { return {difference_.data(), difference_.size()}; }
  View<const std::uint16_t> raw() const { return {raw_.data(), raw_.size()}; }
  View<const std::uint16_t> bare() const { return {bare_.data(), bare_.size()}; }

  Settings settings_;
  std::vector<std::int16_t> difference_;
  std::vector<std::uint16_t> raw_, bare_;
  Storage<16, 12> storage_;
  SingleFrame frame_;
};

TEST_F(OneFrame, GivesItsContactsFromTheDifferenceAlone) {
  ASSERT_EQ(frame_.find(storage_.memory(), difference(), settings_), SettingsField::none);
  ASSERT_EQ(frame_.peaks.count, 3);
  EXPECT_FALSE(frame_.peaks.peak[0].palm);
  EXPECT_NEAR(frame_.peaks.peak[0].y_q8 / 256.0, 11.1, 0.15);
  EXPECT_NEAR(frame_.peaks.peak[0].x_q8 / 256.0, 3.4, 0.15);
  EXPECT_NEAR(frame_.peaks.peak[1].x_q8 / 256.0, 6.6, 0.15);
  EXPECT_TRUE(frame_.peaks.peak[2].palm);
  EXPECT_EQ(frame_.limit, 280);
}

TEST_F(OneFrame, GivesWhatTheEngineFindsInTheSameFrame) {
  std::mt19937 random(44101);
  std::normal_distribution<double> noise(0, 25);
  Storage<16, 12> engine_storage;
  for (int k = 0; k < 200; ++k) {
    SCOPED_TRACE(k);
    for (std::size_t i = 0; i < raw_.size(); ++i) {
      const int row_swing = static_cast<int>(i) / kPanel.cols % 3 * 20;
      raw_[i] = static_cast<std::uint16_t>(kBare - difference_[i] + row_swing + noise(random));
    }
    Engine engine(engine_storage.memory());
    ASSERT_EQ(engine.configure(settings_), SettingsField::none);
    engine.join_midway(bare(), 0);
    ASSERT_EQ(engine.step({raw_.data(), kPanel, 1, 8000}).status, FrameStatus::ok);
    ASSERT_EQ(frame_.find(storage_.memory(), raw(), bare(), settings_, engine.panel_sigma_q4()),
              SettingsField::none);
    for (std::size_t i = 0; i < raw_.size(); ++i)
      ASSERT_EQ(storage_.memory().difference[i], engine.difference()[i]) << i;
    ASSERT_EQ(engine.contacts().size, std::size_t{frame_.peaks.count});
    bool palm = false;  // beside one nothing is a deliberate touch
    for (int p = 0; p < frame_.peaks.count; ++p) palm = palm || frame_.peaks.peak[p].palm;
    for (const Contact& contact : engine.contacts()) {
      const Peak& peak = frame_.peaks.peak[contact.id];
      EXPECT_EQ(contact.x_q8, peak.x_q8);
      EXPECT_EQ(contact.y_q8, peak.y_q8);
      EXPECT_EQ(contact.strength, peak.strength);
      EXPECT_EQ(contact.confidence, !palm);
    }
  }
}

TEST_F(OneFrame, TakesItsNoiseFromTheQuietNodes) {
  std::mt19937 random(44102);
  std::normal_distribution<double> noise(0, 60);
  for (std::int16_t& d : difference_) d = static_cast<std::int16_t>(d + noise(random));
  ASSERT_EQ(frame_.find(storage_.memory(), difference(), settings_), SettingsField::none);
  EXPECT_NEAR(frame_.limit, 6 * 60, 40) << "six sigma";
}

TEST_F(OneFrame, DoesNotTakeSaturatedNodesForATouch) {
  raw_ = bare_;
  raw_[5 * 12 + 4] = raw_[5 * 12 + 5] = raw_[6 * 12 + 5] = 0;
  ASSERT_EQ(frame_.find(storage_.memory(), raw(), bare(), settings_), SettingsField::none);
  EXPECT_EQ(frame_.peaks.count, 0);
}

TEST_F(OneFrame, OfCountsThatRiseUnderAFingerIsReadTheOtherWay) {
  for (std::size_t i = 0; i < raw_.size(); ++i)
    raw_[i] = static_cast<std::uint16_t>(kBare + difference_[i]);
  settings_.counts_rise = true;
  ASSERT_EQ(frame_.find(storage_.memory(), raw(), bare(), settings_), SettingsField::none);
  EXPECT_EQ(frame_.peaks.count, 3);
}

TEST_F(OneFrame, NamesWhatIsWrongAndThenHoldsNothing) {
  ASSERT_EQ(frame_.find(storage_.memory(), difference(), settings_), SettingsField::none);
  Settings bad = settings_;
  bad.saddle_permille = 1001;
  EXPECT_EQ(frame_.find(storage_.memory(), difference(), bad), SettingsField::saddle_permille);
  EXPECT_EQ(frame_.peaks.count, 0);
  EXPECT_EQ(frame_.find(storage_.memory(), raw(), bare(), bad), SettingsField::saddle_permille);
  const View<const std::int16_t> short_one{difference_.data(), difference_.size() - 1};
  EXPECT_EQ(frame_.find(storage_.memory(), short_one, settings_), SettingsField::shape);
  const View<const std::uint16_t> short_raw{raw_.data(), raw_.size() - 1};
  EXPECT_EQ(frame_.find(storage_.memory(), short_raw, bare(), settings_), SettingsField::shape);
  EXPECT_EQ(frame_.find(storage_.memory(), raw(), short_raw, settings_), SettingsField::shape);
  Storage<15, 12> small;
  EXPECT_EQ(frame_.find(small.memory(), difference(), settings_), SettingsField::shape);
  EXPECT_EQ(frame_.peaks.count, 0);
}

}  // namespace
}  // namespace bareglass
