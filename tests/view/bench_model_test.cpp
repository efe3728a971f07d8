// The live panel without its window: acts, undo, recording, and a scene that plays again.
#include "bareglass/view/bench_model.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "bareglass/capture/error.hpp"
#include "bareglass/capture/reader.hpp"
#include "bareglass/panel/player.hpp"

namespace bareglass::view {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::StartsWith;

std::string panel_file(const char* glass) {
  return std::string(BAREGLASS_SOURCE_DIR) + "/fixtures/panels/bars_and_stripes_" + glass + ".toml";
}

/// The panel that ships with its kernels, so that no test solves a field.
panel::Scenario shipped_bench() {
  panel::Scenario s = bare_bench();
  s.panel_path = panel_file("1_1");
  s.panel = field::load_panel(s.panel_path);
  return s;
}

struct Bench : ::testing::Test {
  BenchModel bench{shipped_bench()};

  void start() {
    bench.power(true);
    bench.advance(1.0);
    ASSERT_EQ(bench.unit().device().state(), InputState::running);
  }
  InputState state() const { return bench.unit().device().state(); }
  std::filesystem::path file(const char* name) const {
    const auto folder = std::filesystem::path(BAREGLASS_BINARY_DIR) / "bench_model_test";
    std::filesystem::create_directories(folder);
    return folder / name;
  }
};

using UnpoweredBench = Bench;
using RunningBench = Bench;

TEST_F(UnpoweredBench, ScansNothingUntilItIsPowered) {
  bench.advance(0.5);
  EXPECT_FALSE(bench.unit().powered());
  EXPECT_TRUE(bench.unit().frame().raw.empty());
  bench.power(true);
  EXPECT_EQ(bench.unit().frame().raw.size(), 160u);
}

TEST_F(UnpoweredBench, StartsOnBareGlass) {
  bench.power(true);
  bench.advance(1.0);
  EXPECT_EQ(state(), InputState::running);
}

TEST_F(UnpoweredBench, RefusesToStartWithADampNoteOnIt) {
  bench.put(ShelfItem::damp_note, {20, 28});
  bench.power(true);
  bench.advance(1.0);
  EXPECT_EQ(state(), InputState::off);
}

TEST_F(UnpoweredBench, StartsWithADryNoteAndDryTapeOnIt) {
  bench.put(ShelfItem::dry_note, {20, 28});
  bench.put(ShelfItem::tape, {22, 60});
  bench.power(true);
  bench.advance(1.0);
  EXPECT_EQ(state(), InputState::running);
}

TEST_F(UnpoweredBench, AsksForServiceUnderThatPolicy) {
  bench.set_policy(StartPolicy::service);
  bench.put(ShelfItem::hand, {22, 30});
  bench.power(true);
  bench.advance(1.0);
  EXPECT_EQ(state(), InputState::service);
}

TEST_F(RunningBench, FingerIsAContactWhereItLies) {
  start();
  bench.put(ShelfItem::finger, {20, 30});
  bench.advance(0.3);
  const std::vector<BenchContact> contacts = bench.contacts();
  ASSERT_EQ(contacts.size(), 1u);
  EXPECT_NEAR(contacts[0].x_mm, 20.0, 0.7);
  EXPECT_NEAR(contacts[0].y_mm, 30.0, 0.7);
  EXPECT_TRUE(contacts[0].made);
}

TEST_F(RunningBench, ThreeFingersAreThreeContacts) {
  start();
  bench.put(ShelfItem::three_fingers, {22, 40});
  bench.advance(0.3);
  EXPECT_EQ(bench.contacts().size(), 3u);
}

// False touches from an isolated diagonal streak: about 60 % of a finger along it, by an
// independent field solution of this panel.
TEST_F(RunningBench, StreakPassesTheTouchThresholdWhereNobodyTouches) {
  bench.set_policy(StartPolicy::adopt);
  start();
  bench.put(ShelfItem::streak, {20, 35});
  bench.advance(0.1);
  const Engine& device = bench.unit().device();
  std::int16_t highest = 0;
  for (const std::int16_t d : device.difference()) highest = std::max(highest, d);
  EXPECT_GT(highest, device.limits().touch_on);
}

TEST_F(RunningBench, DragIsFollowedFrameByFrameAndIsOneAct) {
  start();
  const std::size_t finger = bench.put(ShelfItem::finger, {10, 20}).front();
  bench.advance(0.2);
  bench.begin_drag(finger);
  for (int n = 1; n <= 50; ++n) {
    bench.drag_to({10.0 + 0.5 * n, 20.0});
    bench.advance(0.02);
  }
  bench.end_drag();
  bench.advance(0.1);
  ASSERT_EQ(bench.contacts().size(), 1u);
  EXPECT_NEAR(bench.contacts()[0].x_mm, 35.0, 0.7);
  EXPECT_EQ(bench.undo_label(), "move finger");
  bench.undo();
  EXPECT_DOUBLE_EQ(bench.unit().timeline().thing(finger).place.x, 10.0);
  bench.redo();
  EXPECT_DOUBLE_EQ(bench.unit().timeline().thing(finger).place.x, 35.0);
}

TEST_F(RunningBench, TurnedStripLiesAcross) {
  start();
  const std::size_t tape = bench.put(ShelfItem::tape, {20, 30}).front();
  EXPECT_EQ(bench.thing_at({40, 30}), tape);
  EXPECT_EQ(bench.thing_at({20, 50}), std::nullopt);
  bench.turn(tape, 90);
  EXPECT_EQ(bench.thing_at({40, 30}), std::nullopt);
  EXPECT_EQ(bench.thing_at({20, 50}), tape);
}

TEST_F(RunningBench, UndoneActsLeaveThingsLinesAndDeviceAsTheyWere) {
  start();
  const std::size_t note = bench.put(ShelfItem::damp_note, {20, 30}).front();
  bench.turn(note, 30);
  bench.connect(note, 0.0, true);
  bench.take_away(note, "peel");
  LineFault cut;
  cut.kind = LineFault::Kind::cut;
  cut.first = cut.last = 3;
  cut.at = 4;
  bench.break_line(cut);
  bench.dock(true);
  bench.set_charger_noise(2.0, 250.0);
  bench.power(false);

  EXPECT_TRUE(bench.undo());  // power
  EXPECT_TRUE(bench.unit().powered());
  EXPECT_TRUE(bench.undo());  // charger
  EXPECT_EQ(bench.surroundings().charger.amplitude_v, 0.0);
  EXPECT_TRUE(bench.undo());  // dock
  EXPECT_FALSE(bench.surroundings().docked);
  EXPECT_EQ(bench.surroundings().earth_pf, panel::kConnected);
  EXPECT_TRUE(bench.undo());  // cut
  EXPECT_TRUE(bench.unit().timeline().faults().empty());
  EXPECT_TRUE(bench.undo());  // peel
  const panel::ThingState back = bench.unit().timeline().thing(note);
  EXPECT_TRUE(back.there);
  EXPECT_EQ(back.angle_deg, 30.0);
  EXPECT_EQ(back.device_pf, panel::kConnected);
  EXPECT_TRUE(bench.undo());  // connect
  EXPECT_EQ(bench.unit().timeline().thing(note).device_pf, 0.0);
  EXPECT_TRUE(bench.undo());  // turn
  EXPECT_EQ(bench.unit().timeline().thing(note).angle_deg, 0.0);
  EXPECT_TRUE(bench.undo());  // put
  EXPECT_FALSE(bench.unit().timeline().thing(note).there);
  while (bench.redo()) {
  }
  EXPECT_FALSE(bench.unit().powered());
  EXPECT_EQ(bench.unit().timeline().faults().size(), 1u);
  EXPECT_TRUE(bench.surroundings().docked);
}

TEST_F(RunningBench, UndoOfADriedFilmBringsBackWhatWasLeft) {
  start();
  const std::vector<std::size_t> wet = bench.put(ShelfItem::wet_wipe, {20, 35});
  bench.advance(10.0);
  const panel::ThingState before = bench.unit().timeline().thing(wet[1]);
  ASSERT_NEAR(before.film_um, 50.0, 1.0);
  bench.wipe_all();
  bench.undo();
  EXPECT_NEAR(bench.unit().timeline().thing(wet[1]).film_um, before.film_um, 0.2);
  EXPECT_NEAR(bench.unit().timeline().thing(wet[0]).scale, 0.75, 0.01);
  EXPECT_TRUE(bench.unit().timeline().thing(wet[0]).drying);
}

TEST_F(RunningBench, ActsThatWereUndonePastAChangeOfTheBenchCanBeDoneAgain) {
  bench.set_policy(StartPolicy::wait);
  bench.put(ShelfItem::drops, {20, 30});
  EXPECT_TRUE(bench.undo());
  EXPECT_TRUE(bench.undo());
  EXPECT_EQ(bench.story().policy, StartPolicy::lock);
  EXPECT_TRUE(bench.redo());
  EXPECT_TRUE(bench.redo());
  EXPECT_EQ(bench.story().policy, StartPolicy::wait);
  EXPECT_EQ(bench.lying().size(), 4u);
}

TEST_F(RunningBench, ChangedGlassKeepsWhatLiesThere) {
  start();
  bench.put(ShelfItem::tape, {20, 30});
  bench.set_panel(panel_file("2_0"));
  EXPECT_EQ(bench.lying().size(), 1u);
  EXPECT_DOUBLE_EQ(bench.story().panel.layers.front().thickness_mm, 2.0);
  bench.undo();
  EXPECT_DOUBLE_EQ(bench.story().panel.layers.front().thickness_mm, 1.1);
}

TEST_F(RunningBench, PanelFileThatIsNoneChangesNothing) {
  start();
  EXPECT_THROW(bench.set_panel("no-such-panel.toml"), host::CaptureError);
  EXPECT_EQ(state(), InputState::running);
  EXPECT_EQ(bench.undo_label(), "power on");
}

TEST_F(RunningBench, LinesThatDoNotExistAreNotBroken) {
  LineFault f;
  f.first = f.last = 99;
  EXPECT_THROW(bench.break_line(f), std::invalid_argument);
}

/// Every frame and every journal entry of a story.
struct Heard {
  std::vector<host::FrameRecord> frames;
  std::vector<host::JournalRecord> journal;
  std::vector<std::string> notes;
  void take(const host::Record& r) {
    if (const auto* f = std::get_if<host::FrameRecord>(&r)) frames.push_back(*f);
    if (const auto* j = std::get_if<host::JournalRecord>(&r)) journal.push_back(*j);
    if (const auto* n = std::get_if<host::NoteRecord>(&r)) notes.push_back(n->text);
  }
};

TEST_F(RunningBench, SavedSceneTellsTheSameStoryFrameForFrame) {
  std::vector<std::vector<std::uint16_t>> seen;
  bench.observe([&](const panel::LiveUnit::Step& step) {
    if (step.powered) seen.push_back(bench.unit().frame().raw);
  });
  bench.put(ShelfItem::damp_note, {20, 28});
  bench.put(ShelfItem::tape, {20, 28});
  bench.power(true);
  bench.advance(0.777);
  bench.take_away(*bench.thing_named("damp note"), "peel");
  bench.power_cycle();
  bench.advance(1.3);
  const std::size_t finger = bench.put(ShelfItem::finger, {12, 20}).front();
  bench.begin_drag(finger);
  for (int n = 1; n <= 20; ++n) {
    bench.drag_to({12.0 + n / 3.0, 20.0 + n / 7.0});
    bench.advance(1.0 / 60.0);
  }
  bench.end_drag();
  bench.put(ShelfItem::wet_wipe, {21, 50});
  bench.turn(*bench.thing_named("tape strip"), 15);
  LineFault worn;
  worn.kind = LineFault::Kind::raised_resistance;
  worn.first = 8;
  worn.last = 10;
  worn.ohm = 30000;
  worn.mean_there_s = 0.3;
  worn.mean_away_s = 0.2;
  bench.break_line(worn);
  bench.dock(true);
  bench.set_charger_noise(1.5, 248.6);
  bench.set_battery(2900, 0.5);
  bench.advance(1.0);
  bench.undo();
  bench.take_away(finger);
  bench.undo();
  bench.wipe_all(true);
  bench.advance(0.4);

  const std::string path = file("scene.toml").string();
  bench.story_told = "A \"quoted\" story.";
  bench.save_scene(path);
  const panel::Scenario again = panel::load_scenario(path);
  EXPECT_EQ(again.story, "A \"quoted\" story.");
  Heard heard;
  panel::play(again, [&](const host::Record& r) { heard.take(r); });
  ASSERT_EQ(heard.frames.size(), seen.size());
  ASSERT_GT(seen.size(), 150u);
  for (std::size_t k = 0; k < seen.size(); ++k) ASSERT_EQ(heard.frames[k].raw, seen[k]) << k;
  EXPECT_FALSE(heard.journal.empty());
}

TEST_F(RunningBench, SceneOfAnotherPanelAndOtherThresholdsReadsBack) {
  Settings thresholds;
  thresholds.touch_on_permille = 250;
  thresholds.wait_ms = 5000;
  bench.set_thresholds(thresholds);
  bench.set_panel(panel_file("0_7"));
  bench.set_size(20, 12);
  bench.advance(0.5);
  const std::string path = file("other.toml").string();
  bench.save_scene(path);
  const panel::Scenario again = panel::load_scenario(path);
  EXPECT_EQ(again.thresholds.touch_on_permille, 250);
  EXPECT_EQ(again.thresholds.wait_ms, 5000u);
  EXPECT_EQ(again.setup.rows, 20);
  EXPECT_DOUBLE_EQ(again.panel.layers.front().thickness_mm, 0.7);
}

std::vector<std::string> notes_of(const std::string& path, std::uint64_t* frames) {
  const auto reader = host::open_capture(path, {});
  std::vector<std::string> out;
  host::Record record;
  while (reader->next(record)) {
    if (const auto* n = std::get_if<host::NoteRecord>(&record)) out.push_back(n->text);
    if (std::holds_alternative<host::FrameRecord>(record)) ++*frames;
  }
  return out;
}

TEST_F(RunningBench, RecordingHoldsFramesAndTruth) {
  const std::string path = file("recorded.frames").string();
  bench.put(ShelfItem::damp_note, {20, 28});
  bench.record(path);
  bench.power(true);
  bench.advance(0.5);
  bench.take_away(*bench.thing_named("damp note"), "peel");
  bench.advance(0.5);
  bench.stop_recording();
  std::uint64_t frames = 0;
  const std::vector<std::string> notes = notes_of(path, &frames);
  EXPECT_EQ(frames, bench.recorded_frames());
  EXPECT_GE(frames, 50u);
  EXPECT_THAT(notes, Contains(StartsWith("story: ")));
  EXPECT_THAT(notes, Contains(HasSubstr("truth: lies thing=damp note")));
  EXPECT_THAT(notes, Contains("truth: peel thing=damp note"));
}

TEST_F(RunningBench, ClosedWhileRecordingLosesNothing) {
  const std::string path = file("closed.frames").string();
  std::filesystem::remove(path);
  std::uint64_t counted = 0;
  {
    BenchModel other(shipped_bench());
    other.record(path);
    other.power(true);
    other.advance(0.4);
    counted = other.recorded_frames();
  }
  std::uint64_t frames = 0;
  notes_of(path, &frames);
  EXPECT_EQ(frames, counted);
  EXPECT_GE(frames, 20u);
}

TEST_F(RunningBench, ANewStoryCompletesTheRecording) {
  const std::string path = file("new_story.frames").string();
  std::filesystem::remove(path);
  bench.record(path);
  bench.power(true);
  bench.advance(0.4);
  bench.set_policy(StartPolicy::wait);
  EXPECT_FALSE(bench.recording());
  EXPECT_TRUE(std::filesystem::exists(path));
}

TEST_F(RunningBench, RecordingWhereNothingCanBeWrittenIsRefusedAtOnce) {
  EXPECT_THROW(bench.record("/no/such/folder/x.frames"), host::CaptureWriteError);
  EXPECT_FALSE(bench.recording());
}

}  // namespace
}  // namespace bareglass::view
