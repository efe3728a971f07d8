// What people do with their fingers, as raw counts: fourteen recordings of a phone panel (open
// dataset CapFingerId: Le, Mayer, Henze, "Investigating the Feasibility of Finger Identification on
// Capacitive Touchscreens using Deep Learning", IUI 2019, doi 10.1145/3301275.3302295) behind a
// made-up bare start. Nothing lies on that glass and nobody's finger may switch input off. Skipped
// where the data is not at hand.
#include <gtest/gtest.h>

#include <cstdint>
#include <memory>
#include <random>
#include <string>
#include <vector>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/core/engine.hpp"
#include "bareglass/replay/replay.hpp"
#include "support/phone_frames.hpp"
#include "support/record_list.hpp"

namespace bareglass::host {
namespace {

constexpr Shape kPhone{27, 15};
constexpr int kCountsPerUnit = 16;  // the dataset's touches peak at some 220 of its units
constexpr int kBareCounts = 22000;
constexpr std::uint32_t kPeriodUs = 66000;

class PhonePanelAsRawCounts : public ::testing::TestWithParam<std::string> {
 protected:
  void SetUp() override {
    const auto path = support::phone_frames_path("phone-" + GetParam() + ".csv.gz");
    if (!path) GTEST_SKIP() << GetParam() << ": the captured frames are not at hand";
    phone_ = support::load_phone_frames(*path);
    Settings s;
    s.shape = kPhone;
    s.finger_counts = 220 * kCountsPerUnit;
    s.frame_period_us = kPeriodUs;
    s.pitch_row_um = s.pitch_col_um = 4100;  // a 62 x 110 mm panel of 15 x 27 nodes
    storage_ = std::make_unique<Storage<27, 15>>();
    engine_ = std::make_unique<Engine>(storage_->memory());
    ASSERT_EQ(engine_->configure(s), SettingsField::none);
  }

  void step(const std::vector<std::int16_t>& difference) {
    FrameRecord frame;
    frame.rows = kPhone.rows;
    frame.cols = kPhone.cols;
    frame.sequence = ++sequence_;
    frame.t_us = t_us_;
    for (const std::int16_t d : difference)
      frame.raw.push_back(static_cast<std::uint16_t>(kBareCounts - kCountsPerUnit * d +
                                                     static_cast<int>(random_() % 17) - 8));
    engine_->step({frame.raw.data(), kPhone, frame.sequence, t_us_});
    frames_off_ += started_ && !engine_->input_on();
    for (const Contact& c : engine_->contacts()) touches_ += c.tip && c.confidence;
    records_.emplace_back(std::move(frame));
  }

  void play() {
    const Settings& s = engine_->settings();
    PanelDescription panel;
    panel.rows = kPhone.rows;
    panel.cols = kPhone.cols;
    panel.pitch_row_mm = panel.pitch_col_mm = s.pitch_row_um / 1000.0;
    panel.finger_counts = s.finger_counts;
    panel.frame_period_us = kPeriodUs;
    panel.power_up_us = 0;
    records_.emplace_back(panel);
    engine_->power_up(0);
    const std::vector<std::int16_t> bare(static_cast<std::size_t>(kPhone.nodes()), 0);
    for (int k = 0; k < 60; ++k) {
      t_us_ += kPeriodUs;
      step(bare);
    }
    started_ = true;
    const std::uint64_t start_us = t_us_ + kPeriodUs;
    const support::PhoneFrames::Frame* before = nullptr;
    for (const auto& f : phone_.frames) {
      const bool again = before != nullptr && f.t_us == before->t_us && f.values == before->values;
      before = &f;
      if (again) continue;
      t_us_ = start_us + f.t_us - phone_.frames.front().t_us;
      step(f.values);
    }
  }

  support::PhoneFrames phone_;
  std::vector<Record> records_;
  std::unique_ptr<Storage<27, 15>> storage_;
  std::unique_ptr<Engine> engine_;
  std::mt19937 random_{20};
  std::uint64_t t_us_ = 0;
  std::uint32_t sequence_ = 0;
  bool started_ = false;
  int frames_off_ = 0, touches_ = 0;
};

TEST_P(PhonePanelAsRawCounts, NothingAFingerDoesSwitchesInputOff) {
  play();
  EXPECT_EQ(frames_off_, 0) << "of " << phone_.frames.size();
  EXPECT_GT(touches_, 300) << "and touches are touches";
  for (std::uint32_t n = engine_->journal().first(); n < engine_->journal().end(); ++n)
    EXPECT_NE(engine_->journal().at(n).code, JournalCode::palm_held_back);
}

// Single nodes of these captures are stuck for seconds, and are told so.
bool is_on_the_glass_or_of_a_line(Cause cause) {
  switch (cause) {
    case Cause::bare_glass:
    case Cause::lone_node:
    case Cause::not_enough:
    case Cause::interference:
    case Cause::common_mode:
      return false;
    default:
      return true;
  }
}

TEST_P(PhonePanelAsRawCounts, NothingIsClaimedForSureToLieThereOrToBeBroken) {
  play();
  support::RecordListReader reader(records_);
  const Account account = replay(reader, GetParam(), {});
  EXPECT_EQ(account.kind, DumpKind::from_power_up);
  for (const CauseFound& found : diagnose(account).causes) {
    if (!is_on_the_glass_or_of_a_line(found.cause)) continue;
    EXPECT_NE(found.sureness, Sureness::sure) << name_of(found.cause) << ": " << found.headline;
  }
}

std::string recording_name(const ::testing::TestParamInfo<std::string>& one) {
  std::string name = one.param;
  name[name.find('-')] = '_';
  return name;
}

INSTANTIATE_TEST_SUITE_P(Recordings, PhonePanelAsRawCounts,
                         ::testing::Values("index-a", "index-b", "index-d", "index-e", "index-l",
                                           "little-k", "middle-i", "ring-m", "thumb-c", "thumb-f",
                                           "thumb-g", "thumb-h", "thumb-j", "thumb-n"),
                         recording_name);

}  // namespace
}  // namespace bareglass::host
