// The replay in its window, without a screen: events go in as from a keyboard and a mouse, states
// are read from the model, pictures are kept below the build folder for people to look at.
#include "bareglass/view/replay_page.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <string>
#include <tuple>

#include "bareglass/view/shell.hpp"
#include "support/approved_picture.hpp"
#include "support/window_events.hpp"

namespace bareglass::view {
namespace {

using namespace test_support;
using support::read_png;

const std::string kFixtures = BAREGLASS_SOURCE_DIR "/fixtures/";
constexpr double kFrame_s = 1.0 / 60.0;

std::string picture_file(const std::string& name) {
  const auto folder = std::filesystem::path(BAREGLASS_BINARY_DIR) / "view_pictures";
  std::filesystem::create_directories(folder);
  return (folder / (name + ".png")).string();
}

struct Rgb {
  int r, g, b;
};

Rgb pixel(const Picture& p, ImVec2 at) {
  const auto k = 3 * (static_cast<std::size_t>(at.y) * static_cast<std::size_t>(p.width) +
                      static_cast<std::size_t>(at.x));
  return {p.rgb[k], p.rgb[k + 1], p.rgb[k + 2]};
}

struct WindowOnAPeeledNote : ::testing::Test {
  WindowOnAPeeledNote() { page.model()->finish_opening(), frames(3); }

  void frames(int n) {
    for (int k = 0; k < n; ++k) shell.frame(page, kFrame_s);
  }
  void key(SDL_Keycode code, Uint16 modifiers = KMOD_NONE) {
    press_key(code, modifiers);
    frames(1);
  }
  void click(ImVec2 at) {
    move_mouse(at);
    frames(1);
    mouse_button(at, true);
    frames(1);
    mouse_button(at, false);
    frames(2);
  }
  Picture keep(const std::string& name) {
    move_mouse({1, 1});
    frames(3);
    const Picture picture = shell.picture();
    write_png(picture_file(name), picture);
    return picture;
  }
  ReplayModel& model() { return *page.model(); }

  Shell shell{[] {
    ShellOptions options;
    options.hidden = true;
    options.scale = 1.0F;
    return options;
  }()};
  ViewMemory memory;
  ReplayPage page{OpenRequest{kFixtures + "damp-note-peeled.frames", {}, {}, {}}, memory};
};

TEST_F(WindowOnAPeeledNote, OpensAtTheDecisionAndLooksAsInTheDocuments) {
  EXPECT_EQ(model().at_us(), model().decision_us());
  const Picture now = keep("decision");
  const Picture kept = read_png(kFixtures + "pictures/view-damp-note-peeled.png");
  ASSERT_GT(kept.width, 0);
  // Letters may be set a little differently by another version of the font.
  EXPECT_LT(share_differing(now, kept), 0.03);
}

TEST_F(WindowOnAPeeledNote, IsDrivenByKeys) {
  const std::uint64_t decision = model().moment().number;
  key(SDLK_RIGHT);
  EXPECT_EQ(model().moment().number, decision + 1);
  key(SDLK_LEFT);
  key(SDLK_LEFT);
  EXPECT_EQ(model().moment().number, decision - 1);
  key(SDLK_RIGHT, KMOD_LSHIFT);
  EXPECT_EQ(model().moment().number, decision + 24);
  key(SDLK_HOME);
  EXPECT_EQ(model().moment().number, 0u);
  key(SDLK_DOWN);
  EXPECT_GT(model().moment().number, 0u);
  key(SDLK_d);
  EXPECT_EQ(model().moment().number, decision);
  key(SDLK_END);
  EXPECT_EQ(model().at_us(), model().end_us());
  key(SDLK_1);
  EXPECT_EQ(model().layer(), ReplayLayer::raw);
  key(SDLK_5);
  EXPECT_EQ(model().layer(), ReplayLayer::findings);
  key(SDLK_TAB);
  EXPECT_EQ(page.side(), ReplayPage::Side::next);
}

TEST_F(WindowOnAPeeledNote, PlaysAndPausesWithSpace) {
  key(SDLK_HOME);
  key(SDLK_SPACE);
  EXPECT_TRUE(model().playing());
  frames(60);
  key(SDLK_SPACE);
  EXPECT_FALSE(model().playing());
  EXPECT_NEAR(static_cast<double>(model().at_us()), 1e6, 60e3);
}

TEST_F(WindowOnAPeeledNote, TimelineIsDraggedWithTheMouse) {
  const ImVec2 from = page.pixel_of_time(model().at_us());
  const ImVec2 to = page.pixel_of_time(5'000'000);
  move_mouse(from);
  frames(1);
  mouse_button(from, true);
  frames(2);
  move_mouse({0.5F * (from.x + to.x), from.y});
  frames(1);
  const std::uint64_t between = model().at_us();
  EXPECT_GT(between, 2'000'000u);
  EXPECT_LT(between, 3'500'000u);
  move_mouse(to);
  frames(1);
  mouse_button(to, false);
  frames(2);
  EXPECT_NEAR(static_cast<double>(model().at_us()), 5e6, 25e3);
  move_mouse(from);
  frames(2);
  EXPECT_NEAR(static_cast<double>(model().at_us()), 5e6, 25e3) << "let go of, it stays";
}

TEST_F(WindowOnAPeeledNote, ASentenceLeadsToItsMomentAndPlace) {
  std::size_t gone = 0;
  while (gone < model().story().size() &&
         model().story()[gone].text.rfind("No longer seen", 0) != 0)
    ++gone;
  ASSERT_LT(gone, model().story().size());
  click(page.pixel_of_sentence(gone));
  EXPECT_EQ(model().at_us(), model().story()[gone].at_us);
  EXPECT_TRUE(model().marked());
}

TEST_F(WindowOnAPeeledNote, NodeUnderThePointerShowsItsHistory) {
  move_mouse(page.pixel_of_node(10, 7));
  frames(2);
  EXPECT_EQ(model().node(), 10 * 10 + 7);
  click(page.pixel_of_node(4, 2));
  move_mouse({1, 1});
  frames(2);
  EXPECT_EQ(model().node(), 4 * 10 + 2) << "pinned by the click";
  keep("pinned_node");
}

TEST_F(WindowOnAPeeledNote, AClickWithinOneFrameIsStillAClick) {
  const ImVec2 node = page.pixel_of_node(4, 2);
  move_mouse(node);
  frames(2);
  mouse_button(node, true);
  mouse_button(node, false);
  frames(3);
  EXPECT_EQ(model().pinned(), std::optional<int>(4 * 10 + 2));
}

TEST_F(WindowOnAPeeledNote, NoteIsBlueUnderItAndGoneAfterwards) {
  const ImVec2 under = {page.pixel_of_node(7, 5).x + 9, page.pixel_of_node(7, 5).y + 9};
  const Rgb there = pixel(keep("note_there"), under);
  EXPECT_GT(there.b, there.r + 40);
  key(SDLK_END);
  const Rgb gone = pixel(keep("note_gone"), under);
  EXPECT_LT(std::abs(gone.b - gone.r), 40);
}

TEST_F(WindowOnAPeeledNote, EveryLayerDrawsAnotherPicture) {
  key(SDLK_HOME);
  key(SDLK_RIGHT, KMOD_LSHIFT);
  Picture before;
  for (int n = 0; n < kReplayLayers; ++n) {
    key(static_cast<SDL_Keycode>(SDLK_1 + n));
    const Picture now = keep(std::string("layer_") + name_of(static_cast<ReplayLayer>(n)));
    EXPECT_GT(share_differing(before, now), 0.002) << n;
    before = now;
  }
}

TEST_F(WindowOnAPeeledNote, HelpLiesOverThePage) {
  const Picture without = keep("without_help");
  key(SDLK_F1);
  EXPECT_GT(share_differing(without, keep("help")), 0.02);
  key(SDLK_ESCAPE);
  EXPECT_LT(share_differing(without, keep("without_help")), 0.001);
}

TEST_F(WindowOnAPeeledNote, ADroppedDumpIsShownAndRemembered) {
  drop_file(kFixtures + "wet-bezel.frames");
  frames(1);
  model().finish_opening();
  frames(1);
  EXPECT_EQ(model().account().panel.unit_id, "bay3-pump-01");
  ASSERT_EQ(memory.recent.size(), 2u);
  EXPECT_NE(memory.recent.front().find("wet-bezel.frames"), std::string::npos);
  key(SDLK_2, KMOD_LCTRL);
  model().finish_opening();
  EXPECT_EQ(model().account().panel.unit_id, "bay1-monitor-02");
}

TEST_F(WindowOnAPeeledNote, ADumpThatCannotBeReadIsToldInTheWindow) {
  const Picture before = keep("before_failure");
  for (const char* name : {"/nowhere/at-all.frames", BAREGLASS_SOURCE_DIR "/README.md"}) {
    page.open(name);
    model().finish_opening();
    frames(2);
    EXPECT_EQ(model().phase(), ReplayModel::Phase::failed);
    EXPECT_NE(model().problem().find(name), std::string::npos) << model().problem();
    // No key may need what is not there.
    for (const KeyBinding& binding : page.keys())
      if (binding.act && binding.key != SDLK_r && binding.key != SDLK_1) binding.act();
  }
  page.open("/nowhere/at-all.frames");
  model().finish_opening();
  EXPECT_GT(share_differing(before, keep("failure")), 0.1);
}

TEST_F(WindowOnAPeeledNote, BeginsSavesAndEndsATouchTestByKey) {
  const auto folder = std::filesystem::path(BAREGLASS_BINARY_DIR) / "replay_touch_kept";
  std::filesystem::remove_all(folder);
  std::filesystem::create_directories(folder);
  page.keep_in(folder.string());
  const Picture without = keep("without_touch_test");
  key(SDLK_F4);
  ASSERT_NE(model().touch_test(), nullptr);
  EXPECT_EQ(model().at_us(), model().end_us());
  EXPECT_GT(share_differing(without, keep("touch_test_on_frames")), 0.02);
  key(SDLK_t, KMOD_LCTRL);
  EXPECT_TRUE(std::filesystem::exists(folder / "touch-test-1.txt")) << page.told();
  page.keep_in("/no/such/folder");
  key(SDLK_t, KMOD_LCTRL);
  EXPECT_NE(page.told().find("/no/such/folder"), std::string::npos) << page.told();
  key(SDLK_F4);
  EXPECT_EQ(model().touch_test(), nullptr);
}

TEST_F(WindowOnAPeeledNote, KeysThatDifferHaveOneMeaningEach) {
  std::set<std::tuple<SDL_Keycode, bool, bool>> seen;
  for (const KeyBinding& binding : page.keys())
    EXPECT_TRUE(seen.insert({binding.key, binding.shift, binding.control}).second)
        << SDL_GetKeyName(binding.key);
}

TEST(SmallAndDenseWindows, DrawEveryFixture) {
  struct Case {
    int width, height;
    float scale;
  };
  for (const Case& c : {Case{640, 480, 1.0F}, Case{2560, 1600, 2.0F}}) {
    ShellOptions options;
    options.hidden = true;
    options.width = c.width;
    options.height = c.height;
    options.scale = c.scale;
    Shell shell(options);
    ViewMemory memory;
    for (const auto& entry : std::filesystem::directory_iterator(kFixtures)) {
      if (entry.path().extension() != ".frames") continue;
      ReplayPage page(OpenRequest{entry.path().string(), {}, {}, {}}, memory);
      page.model()->finish_opening();
      for (int n = 0; n < 4; ++n) shell.frame(page, kFrame_s);
      const Picture picture = shell.picture();
      EXPECT_EQ(picture.width, c.width);
      write_png(picture_file(entry.path().stem().string() + "_" + std::to_string(c.width)),
                picture);
    }
  }
}

TEST(MemoryOfTheWindow, IsKeptAndSurvivesADamagedFile) {
  const auto folder = std::filesystem::path(BAREGLASS_BINARY_DIR) / "view_memory_test";
  const std::string path = (folder / "bareglass" / "window.toml").string();
  std::filesystem::remove_all(folder);
  ViewMemory memory;
  memory.width = 1500;
  memory.layer = "noise";
  for (int n = 0; n < 12; ++n) memory.opened("/dumps/" + std::to_string(n) + ".frames");
  memory.opened("-");
  memory.opened("/dumps/7.frames");
  ASSERT_TRUE(save_view_memory(path, memory));
  const ViewMemory again = load_view_memory(path);
  EXPECT_EQ(again.width, 1500);
  EXPECT_EQ(again.layer, "noise");
  ASSERT_EQ(again.recent.size(), ViewMemory::kMostRecent);
  EXPECT_EQ(again.recent[0], "/dumps/7.frames");
  EXPECT_EQ(again.recent[1], "/dumps/11.frames");
  std::ofstream(path) << "width = 99999\nlayer = [[[";
  EXPECT_EQ(load_view_memory(path).width, 1280);
  EXPECT_FALSE(save_view_memory("/proc/nowhere/window.toml", memory));
  std::filesystem::remove_all(folder);
}

}  // namespace
}  // namespace bareglass::view
