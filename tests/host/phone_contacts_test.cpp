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
    if (!again) take_contacts(good_frames_++);
  }

  void take_contacts(std::size_t frame) {
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
      on_lone_node_ += std::hypot(x, y - 4) < 0.2;  // column 0, row 4: hot all the time in file a
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
  int repeated_ = 0, refused_as_repeated_ = 0, on_lone_node_ = 0;
};

TEST_P(PhoneFramesThroughTheEngine, AgreeWithTheIndependentSequences) {
  std::size_t taps = 0, drags = 0, others = 0, all_taps = 0, all_drags = 0, all_others = 0;
  for (const Sequence& s : sequences_) {
    const bool found = is_reported(s);
    std::size_t& all = s.kind == "tap" ? all_taps : s.kind == "drag" ? all_drags : all_others;
    std::size_t& hit = s.kind == "tap" ? taps : s.kind == "drag" ? drags : others;
    ++all;
    hit += found;
  }
  std::printf("MEASURED %s taps %zu/%zu drags %zu/%zu others %zu/%zu touches %zu rep %d %d hot %d state %d\n", GetParam().file, taps,
              all_taps, drags, all_drags, others, all_others, touches_.size(), repeated_, refused_as_repeated_, on_lone_node_, static_cast<int>(engine_->state()));
}

INSTANTIATE_TEST_SUITE_P(Files, PhoneFramesThroughTheEngine,
                         ::testing::Values(Expected{"phone-index-a", 7, 9},
                                           Expected{"phone-index-b", 2, 13}),
                         [](const auto& i) { return std::string(i.param.file).substr(12); });

}  // namespace
}  // namespace bareglass::host
