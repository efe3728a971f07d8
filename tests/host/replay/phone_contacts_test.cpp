// The engine's contacts on real frames of a phone panel, held against touch sequences that an
// independent rule found in the same frames (sequences.csv beside them: maxima of 3 x 3 nodes above
// 8 robust standard deviations). That rule is to be agreed with closely, not to the last frame.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <fstream>
#include <memory>
#include <sstream>
#include <string>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/phone_frames.hpp"

namespace bareglass::host {
namespace {

constexpr Shape kPhone{27, 15};
constexpr std::uint16_t kBaseline = 32768;

/// One touch as the engine reported it; frames count good ones from 0.
struct Touch {
  std::size_t first = 0, last = 0;
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;  ///< pitches, where it began and where it ended
};

struct Sequence {
  std::string kind;
  std::size_t first = 0, last = 0;
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;
};

std::vector<Sequence> sequences_of(const std::string& file) {
  std::vector<Sequence> all;
  std::ifstream in(*support::phone_frames_path("sequences.csv"));
  for (std::string line; std::getline(in, line);) {
    std::vector<std::string> f;
    std::istringstream fields(line);
    for (std::string field; std::getline(fields, field, ',');) f.push_back(field);
    if (f.size() != 18 || f[0] != file) continue;
    all.push_back({f[1], std::stoul(f[2]), std::stoul(f[3]), std::stod(f[14]), std::stod(f[15]),
                   std::stod(f[16]), std::stod(f[17])});
  }
  return all;
}

struct Expected {
  const char* file;
  std::size_t taps, drags;
  std::size_t least_taps, least_others;
};

void PrintTo(const Expected& e, std::ostream* out) { *out << e.file; }

class PhoneFramesThroughTheEngine : public ::testing::TestWithParam<Expected> {
 protected:
  void SetUp() override {
    const auto path = support::phone_frames_path(std::string(GetParam().file) + ".csv.gz");
    if (!path) GTEST_SKIP() << GetParam().file << ": the captured frames are not at hand";
    run(support::load_phone_frames(*path));
    sequences_ = sequences_of(GetParam().file);
  }

  void run(const support::PhoneFrames& phone) {
    Settings s;
    s.shape = kPhone;
    s.finger_counts = 220;
    s.frame_period_us = 66000;
    s.pitch_row_um = s.pitch_col_um = 4000;
    s.track_ms = 0;  // the frames are differences already
    s.debounce_down = 1;
    s.debounce_up = 1;
    s.match_um = 60000;  // at 15 frames a second a quick finger jumps six lines
    s.held_ms = 600000;
    storage_ = std::make_unique<Storage<27, 15>>();
    engine_ = std::make_unique<Engine>(storage_->memory());
    ASSERT_EQ(engine_->configure(s), SettingsField::none);
    const std::vector<std::uint16_t> baseline(405, kBaseline);
    engine_->join_midway({baseline.data(), baseline.size()}, 0);
    const support::PhoneFrames::Frame* before = nullptr;
    std::uint32_t sequence = 0;
    for (const auto& f : phone.frames) {
      const bool again = before != nullptr && f.t_us == before->t_us && f.values == before->values;
      feed(f, again ? sequence : ++sequence, again);
      before = &f;
    }
  }

  void feed(const support::PhoneFrames::Frame& f, std::uint32_t sequence, bool again) {
    std::vector<std::uint16_t> raw;
    for (const std::int16_t v : f.values) raw.push_back(static_cast<std::uint16_t>(kBaseline - v));
    const StepResult result = engine_->step({raw.data(), kPhone, sequence, f.t_us});
    repeated_ += again;
    refused_as_repeated_ += result.status == FrameStatus::repeated;
    if (again) return;
    take_contacts(good_frames_++, f.values);
    for (int r = 0; r < kPhone.rows; ++r)
      for (int c = 0; c < kPhone.cols; ++c) lone_peaks_ += is_lone(f.values, r, c);
  }

  /// Beyond the threshold of a touch, 66 counts, with no neighbour at a tenth of it. (The engine's
  /// limit is 15 %, after it has taken out the row's common mode of a few counts.)
  static bool is_lone(const std::vector<std::int16_t>& values, int row, int col) {
    const auto at = [&](int r, int c) {
      const bool inside = r >= 0 && r < kPhone.rows && c >= 0 && c < kPhone.cols;
      return inside ? int{values[static_cast<std::size_t>(r * kPhone.cols + c)]} : 0;
    };
    if (at(row, col) < 66) return false;
    for (int r = row - 1; r <= row + 1; ++r)
      for (int c = col - 1; c <= col + 1; ++c)
        if ((r != row || c != col) && 10 * at(r, c) >= at(row, col)) return false;
    return true;
  }

  void take_contacts(std::size_t frame, const std::vector<std::int16_t>& values) {
    for (const Contact& c : engine_->contacts()) {
      const double x = c.x_q8 / 256.0;
      const double y = c.y_q8 / 256.0;
      Touch& touch = open_[c.id];
      if (!c.tip) {
        touches_.push_back(touch);
        is_open_[c.id] = false;
        continue;
      }
      if (!is_open_[c.id]) touch = {frame, frame, x, y, x, y};
      is_open_[c.id] = true;
      touch.last = frame;
      touch.x1 = x;
      touch.y1 = y;
      touches_on_lone_nodes_ +=
          is_lone(values, static_cast<int>(std::lround(y)), static_cast<int>(std::lround(x)));
    }
  }

  /// True if a touch is this sequence: it begins and ends within a frame of it, and where both name
  /// the same frame they are within half a pitch. (A quick finger covers several lines a frame, so
  /// places of different frames say nothing.)
  bool is_reported(const Sequence& s) const {
    const auto near = [](std::size_t a, std::size_t b) { return a <= b + 1 && b <= a + 1; };
    for (const Touch& t : touches_) {
      if (!near(t.first, s.first) || !near(t.last, s.last)) continue;
      if (t.first == s.first && std::hypot(t.x0 - s.x0, t.y0 - s.y0) > 0.5) continue;
      if (t.last == s.last && std::hypot(t.x1 - s.x1, t.y1 - s.y1) > 0.5) continue;
      return true;
    }
    return false;
  }

  std::unique_ptr<Storage<27, 15>> storage_;
  std::unique_ptr<Engine> engine_;
  std::vector<Sequence> sequences_;
  std::vector<Touch> touches_;
  Touch open_[kMaxContacts];
  bool is_open_[kMaxContacts] = {};
  std::size_t good_frames_ = 0;
  int repeated_ = 0, refused_as_repeated_ = 0, touches_on_lone_nodes_ = 0, lone_peaks_ = 0;
};

TEST_P(PhoneFramesThroughTheEngine, AgreeWithTheIndependentSequences) {
  // Measured: a: taps 6 of 7, drags 9 of 9, others 80 of 99; b: 2 of 2, 13 of 13, 60 of 83. The
  // missing tap stays below touch_on; most missing others are swipes that jump more than 60 mm in a
  // frame or smear into two, and become two touches.
  std::size_t found[3] = {}, all[3] = {};
  for (const Sequence& s : sequences_) {
    const std::size_t kind = s.kind == "tap" ? 0 : s.kind == "drag" ? 1 : 2;
    ++all[kind];
    found[kind] += is_reported(s);
  }
  const Expected& e = GetParam();
  ASSERT_EQ(all[0], e.taps);
  ASSERT_EQ(all[1], e.drags);
  EXPECT_GE(found[0], e.least_taps);
  EXPECT_EQ(found[1], e.drags);
  EXPECT_GE(found[2], e.least_others) << "of " << all[2];
  EXPECT_LE(touches_.size(), 2 * sequences_.size()) << "touches that nobody made";
}

TEST_P(PhoneFramesThroughTheEngine, HoldLoneNodesThatAThresholdWouldTakeForTouches) {
  EXPECT_GT(lone_peaks_, 500) << "nodes beyond touch_on without a skirt: there are many";
  EXPECT_EQ(touches_on_lone_nodes_, 0);
  EXPECT_EQ(engine_->state(), InputState::running) << "and they keep nothing off";
}

TEST_P(PhoneFramesThroughTheEngine, AreTakenOnceEachHoweverOftenTheyWereCaptured) {
  EXPECT_GT(repeated_, 600);
  EXPECT_EQ(refused_as_repeated_, repeated_);
}

INSTANTIATE_TEST_SUITE_P(Files, PhoneFramesThroughTheEngine,
                         ::testing::Values(Expected{"phone-index-a", 7, 9, 6, 78},
                                           Expected{"phone-index-b", 2, 13, 2, 58}),
                         [](const auto& i) { return std::string(i.param.file).substr(12); });

}  // namespace
}  // namespace bareglass::host
