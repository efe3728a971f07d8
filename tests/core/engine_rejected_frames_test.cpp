// What holds when frames that must be refused come between whole ones, of every kind and at random,
// and the unit is powered up, configured or joined anew with fingers down.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <random>
#include <set>
#include <vector>

#include "support/engine_cases.hpp"

namespace bareglass {
namespace {

using support::Device;

class UnitOnABadLine {
 public:
  UnitOnABadLine(std::uint32_t seed, StartPolicy policy)
      : random_(seed), device_(support::engine_panel(seed), seed % 2 == 0, [&](Settings& s) {
          s.policy = policy;
          s.debounce_up = static_cast<std::uint8_t>(1 + seed % 12);
          s.debounce_down = static_cast<std::uint8_t>(1 + seed % 3);
          s.retry_ms = 100;
          s.surface_ms = 100;
          s.clear_ms = 100;
        }) {
    device_.engine.power_up(t_us_);
  }

  void play(int calls) {
    for (int k = 0; k < calls && !::testing::Test::HasFailure(); ++k) {
      if (chance(40)) change_scene();
      SCOPED_TRACE(::testing::Message() << "call " << k);
      if (chance(400))
        begin_a_life();
      else if (mood_ != 0 && !chance(4))
        feed_bad(static_cast<int>(mood_ == 7 ? pick(6) + 1 : mood_));
      else
        feed(shape(), ++sequence_, t_us_ += 8000, FrameStatus::ok);
      // Runs of one kind, of all kinds, and stretches in peace.
      if (chance(60)) mood_ = pick(2) == 0 ? 0 : pick(7) + 1;
      check_journal();
    }
  }

  int touches() const { return touches_; }
  int lifts() const { return lifts_; }
  const std::set<FrameStatus>& statuses() const { return statuses_; }
  const std::set<InputState>& states() const { return states_; }

 private:
  std::uint32_t pick(std::uint32_t n) { return static_cast<std::uint32_t>(random_()) % n; }
  bool chance(std::uint32_t one_in) { return pick(one_in) == 0; }
  Shape shape() const { return device_.scene.spec().shape; }

  void change_scene() {
    device_.scene.clear();
    for (std::uint32_t n = pick(4); n > 0; --n)
      device_.scene.add_finger(2 + pick(20), 2 + pick(12));
    if (chance(5)) device_.scene.add_film(8, 14, 3, 9, 60);
  }

  void begin_a_life() {
    if (chance(3)) device_.scene.add_film(8, 14, 3, 9, 60);
    switch (pick(3)) {
      case 0:
        break;
      case 1:
        ASSERT_EQ(device_.engine.configure(Settings(device_.engine.settings()), {}),
                  SettingsField::none);
        check_contacts(/*after_a_step=*/false);
        break;
      default: {
        const std::vector<std::uint16_t> bare = device_.scene.reference();
        device_.engine.join_midway({bare.data(), bare.size()}, t_us_);
        check_contacts(false);
        return;
      }
    }
    if (chance(2)) t_us_ = pick(1000000);
    device_.engine.power_up(t_us_);
    sequence_ = 0;
    check_contacts(false);
  }

  void feed_bad(int kind) {
    const std::uint64_t far = 61000000 + pick(2000000000);
    switch (kind) {
      case 1:
        feed(shape(), sequence_, t_us_, FrameStatus::repeated);
        break;
      case 2:
        feed({9, 7}, sequence_ + pick(3), t_us_ + pick(90000), FrameStatus::wrong_shape);
        break;
      case 3:
        if (t_us_ > 0)
          feed(shape(), sequence_ - pick(9), t_us_ - 1 - pick(4000) % t_us_,
               FrameStatus::stamp_backward);
        break;
      case 4:
        feed(shape(), sequence_ + 1, t_us_ + far, FrameStatus::stamp_ahead);
        break;
      case 5:
        blind_ = true;
        feed(shape(), ++sequence_, t_us_ += pick(4) == 0 ? 30000000u : 8000u,
             FrameStatus::saturated);
        blind_ = false;
        break;
      case 6:  // a gap, or a sequence from elsewhere
        if (chance(2)) t_us_ += pick(60000000);
        if (chance(4)) sequence_ = static_cast<std::uint32_t>(random_());
        feed(shape(), ++sequence_, t_us_ += 8000, FrameStatus::ok);
        break;
      default:
        break;
    }
  }

  void feed(Shape of, std::uint32_t sequence, std::uint64_t t_us, FrameStatus expected) {
    std::vector<std::uint16_t> raw = device_.scene.frame();
    if (blind_) std::fill(raw.begin(), raw.end(), std::uint16_t{65535});
    const StepResult result = device_.engine.step({raw.data(), of, sequence, t_us});
    statuses_.insert(result.status);
    states_.insert(device_.engine.state());
    // The first frame of a life may be a repeated or late one of the life before.
    if (result.status == FrameStatus::clock_restarted) {
      t_us_ = t_us;
      sequence_ = sequence;
      EXPECT_FALSE(device_.engine.input_on());
    } else if (result.status == FrameStatus::ok || result.status == FrameStatus::saturated) {
      t_us_ = std::max(t_us_, t_us);
      sequence_ = sequence;
    } else {
      EXPECT_EQ(result.status, expected);
    }
    SCOPED_TRACE(::testing::Message() << "status " << static_cast<int>(result.status));
    check_contacts(true);
  }

  void check_contacts(bool after_a_step) {
    const View<const Contact> contacts = device_.engine.contacts();
    if (!after_a_step) {
      EXPECT_TRUE(contacts.empty()) << "told with the next step";
      return;
    }
    std::uint32_t seen = 0;
    std::uint32_t now = 0;
    for (const Contact& c : contacts) {
      ASSERT_LT(c.id, kMaxContacts);
      const std::uint32_t bit = 1u << c.id;
      ASSERT_FALSE(seen & bit) << "contact " << int{c.id} << " is listed twice";
      seen |= bit;
      if (c.tip) {
        now |= bit;
        touches_ += down_ & bit ? 0 : 1;
        EXPECT_TRUE(device_.engine.input_on());
      } else {
        ++lifts_;
        EXPECT_TRUE(down_ & bit) << "contact " << int{c.id} << " is lifted and was not down";
      }
      EXPECT_GE(c.x_q8, -128);
      EXPECT_LE(c.x_q8, shape().cols * 256 - 128);
      EXPECT_GE(c.y_q8, -128);
      EXPECT_LE(c.y_q8, shape().rows * 256 - 128);
    }
    EXPECT_EQ(down_ & ~seen, 0u) << "a contact vanished without a lift";
    down_ = now;
  }

  void check_journal() {
    const Journal& journal = device_.engine.journal();
    ASSERT_LE(journal.first(), read_);
    for (; read_ < journal.end(); ++read_) {
      const JournalEntry& e = journal.at(read_);
      const bool begins = e.code == JournalCode::power_up || e.code == JournalCode::joined_midway ||
                          e.code == JournalCode::clock_restarted;
      EXPECT_TRUE(begins || e.t_us >= last_entry_us_)
          << "entry " << read_ << ", code " << static_cast<int>(e.code);
      last_entry_us_ = e.t_us;
    }
  }

  std::mt19937 random_;
  Device device_;
  std::uint64_t t_us_ = 1000000;
  std::uint32_t sequence_ = 0;
  std::uint32_t mood_ = 0;
  bool blind_ = false;
  std::uint32_t down_ = 0;
  int touches_ = 0, lifts_ = 0;
  std::uint32_t read_ = 0;
  std::uint64_t last_entry_us_ = 0;
  std::set<FrameStatus> statuses_;
  std::set<InputState> states_;
};

class FramesOfEveryKindAtRandom : public ::testing::TestWithParam<std::uint32_t> {};

TEST_P(FramesOfEveryKindAtRandom, KeepContactsInputAndJournalTrue) {
  SCOPED_TRACE(::testing::Message() << "seed " << GetParam());
  std::set<FrameStatus> statuses;
  std::set<InputState> states;
  int touches = 0;
  int lifts = 0;
  for (const StartPolicy policy :
       {StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt, StartPolicy::service}) {
    UnitOnABadLine unit(GetParam(), policy);
    unit.play(8000);
    statuses.insert(unit.statuses().begin(), unit.statuses().end());
    states.insert(unit.states().begin(), unit.states().end());
    touches += unit.touches();
    lifts += unit.lifts();
  }
  EXPECT_EQ(statuses.size(), 7u) << "every status";
  for (const InputState state :
       {InputState::settling, InputState::looking, InputState::running, InputState::waiting,
        InputState::off, InputState::service, InputState::paused})
    EXPECT_EQ(states.count(state), 1u) << name_of(state);
  EXPECT_GT(touches, 50);
  EXPECT_LE(touches - lifts, 4 * kMaxContacts) << "what is down at the ends";
}

INSTANTIATE_TEST_SUITE_P(Seeds, FramesOfEveryKindAtRandom, ::testing::Range(4101u, 4105u),
                         [](const auto& one) { return "seed_" + std::to_string(one.param); });

}  // namespace
}  // namespace bareglass
