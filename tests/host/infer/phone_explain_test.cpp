// Real difference frames of a phone panel (open dataset CapFingerId: Le, Mayer, Henze,
// "Investigating the Feasibility of Finger Identification on Capacitive Touchscreens using Deep
// Learning", IUI 2019, doi 10.1145/3301275.3302295), one finger tapping and dragging. Nothing lies
// on that glass, so nothing may be claimed to. Skipped where the data is not at hand.
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/replay/replay.hpp"
#include "support/phone_frames.hpp"
#include "support/record_list.hpp"

namespace bareglass::host {
namespace {

class PhonePanel : public ::testing::TestWithParam<std::string> {
 protected:
  void SetUp() override {
    path_ = std::string(BAREGLASS_SOURCE_DIR "/../shared/data/") + GetParam() + ".csv.gz";
    if (!std::filesystem::exists(path_)) GTEST_SKIP() << "the open dataset is not at " << path_;
  }

  std::vector<Record> records() const {
    const support::PhoneFrames phone = support::load_phone_frames(path_);
    std::vector<Record> records;
    FrameRecord frame;
    frame.kind = FrameKind::difference;
    frame.rows = 27;
    frame.cols = 15;
    for (const auto& f : phone.frames) {
      frame.t_us = f.t_us;
      frame.difference = f.values;
      records.emplace_back(frame);
      ++frame.sequence;
    }
    return records;
  }
  std::string path_;
};

TEST_P(PhonePanel, NothingIsClaimedSurelyToLieOnIt) {
  support::RecordListReader reader(records());
  ReplayOptions options;
  options.finger_counts = 220;
  const Account account = replay(reader, path_, options);
  EXPECT_EQ(account.kind, DumpKind::differences_only);
  EXPECT_EQ(account.final_state, InputState::running);
  EXPECT_GT(account.touches, 100u);
  const Diagnosis diagnosis = diagnose(account);
  // The phone's own tracking leaves after-images of the other sign, and nodes of it are stuck.
  for (const CauseFound& c : diagnosis.causes)
    EXPECT_EQ(c.sureness, Sureness::possible) << name_of(c.cause);
}

// Every node that stands alone for two seconds or longer is in the account, by an independent rule:
// its value stays beyond 60 counts while no neighbour of its sign reaches an eighth of it.
TEST_P(PhonePanel, NodesThatStandAloneAreReported) {
  const std::vector<Record> all = records();
  support::RecordListReader reader(all);
  ReplayOptions options;
  options.finger_counts = 220;
  const Account account = replay(reader, path_, options);
  int expected = 0;
  int reported = 0;
  for (int row = 0; row < 27; ++row)
    for (int col = 0; col < 15; ++col) {
      std::uint64_t since = 0;
      bool counted = false;
      for (const Record& record : all) {
        const FrameRecord& f = std::get<FrameRecord>(record);
        const auto at = [&](int r, int c) {
          return r < 0 || r >= 27 || c < 0 || c >= 15
                     ? 0
                     : int{f.difference[static_cast<std::size_t>(r * 15 + c)]};
        };
        const int v = at(row, col);
        bool alone = std::abs(v) > 60;
        for (int dr = -1; dr <= 1; ++dr)
          for (int dc = -1; dc <= 1; ++dc)
            if (dr != 0 || dc != 0)
              alone = alone && at(row + dr, col + dc) * (v < 0 ? -1 : 1) < std::abs(v) / 8;
        if (!alone) {
          since = 0;
          counted = false;
          continue;
        }
        if (since == 0) since = f.t_us;
        if (counted || f.t_us - since < 2200000) continue;
        counted = true;
        ++expected;
        for (const FindingStory& story : account.findings)
          if (story.last.kind == FindingKind::lone_node && story.last.first_us <= f.t_us &&
              story.last.last_us + 1000000 >= f.t_us && story.widest.row0 <= row + 1 &&
              story.widest.row1 + 1 >= row && story.widest.col0 <= col + 1 &&
              story.widest.col1 + 1 >= col) {
            ++reported;
            break;
          }
      }
    }
  EXPECT_GT(expected, 5);
  EXPECT_GE(reported, expected * 9 / 10);
}

INSTANTIATE_TEST_SUITE_P(Files, PhonePanel, ::testing::Values("phone-index-a", "phone-index-b"),
                         [](const auto& one) { return one.param.substr(12); });

}  // namespace
}  // namespace bareglass::host
