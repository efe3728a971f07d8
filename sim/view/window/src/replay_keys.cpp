// Everything in the replay, from the keyboard.
#include "bareglass/view/replay_page.hpp"

namespace bareglass::view {

std::vector<KeyBinding> ReplayPage::keys() {
  std::vector<KeyBinding> out;
  // Acts that need a dump on show do nothing without one.
  const auto add = [&](SDL_Keycode code, bool shift, const char* shown, const char* what,
                       std::function<void(ReplayModel&)> act) {
    out.push_back({code, shift, false, shown, what, [this, act = std::move(act)] {
                     if (model_ && model_->phase() == ReplayModel::Phase::ready) act(*model_);
                   }});
  };
  add(SDLK_SPACE, false, "Space", "plays and pauses", [](ReplayModel& m) { m.play(!m.playing()); });
  add(SDLK_RIGHT, false, "Right, Left", "one frame on, one back",
      [](ReplayModel& m) { m.step(1); });
  add(SDLK_LEFT, false, "", "", [](ReplayModel& m) { m.step(-1); });
  add(SDLK_RIGHT, true, "Shift+Right, Left", "25 frames on, 25 back",
      [](ReplayModel& m) { m.step(25); });
  add(SDLK_LEFT, true, "", "", [](ReplayModel& m) { m.step(-25); });
  add(SDLK_DOWN, false, "Down, Up", "next sentence, sentence before",
      [](ReplayModel& m) { m.next_sentence(1); });
  add(SDLK_UP, false, "", "", [](ReplayModel& m) { m.next_sentence(-1); });
  add(SDLK_d, false, "D", "goes to the decision", [](ReplayModel& m) { m.to_decision(); });
  add(SDLK_HOME, false, "Home, End", "goes to the start; to the end, and follows a dump that grows",
      [](ReplayModel& m) { m.to_start(); });
  add(SDLK_END, false, "", "", [](ReplayModel& m) { m.to_end(); });
  add(SDLK_PERIOD, false, ". and ,", "faster, slower", [](ReplayModel& m) { m.change_speed(1); });
  add(SDLK_COMMA, false, "", "", [](ReplayModel& m) { m.change_speed(-1); });
  constexpr SDL_Keycode kLayerKeys[kReplayLayers] = {SDLK_1, SDLK_2, SDLK_3, SDLK_4, SDLK_5};
  for (int n = 0; n < kReplayLayers; ++n)
    add(kLayerKeys[n], false, n == 0 ? "1 to 5" : "",
        n == 0 ? "raw, baseline, difference, noise, findings" : "",
        [n](ReplayModel& m) { m.show(static_cast<ReplayLayer>(n)); });
  // The node whose history is shown, from the keyboard.
  const auto move = [](int rows, int cols) {
    return [rows, cols](ReplayModel& m) {
      const Shape shape = m.account().settings.shape;
      const int row = m.node() / shape.cols + rows;
      const int col = m.node() % shape.cols + cols;
      if (row >= 0 && row < shape.rows && col >= 0 && col < shape.cols)
        m.pin(row * shape.cols + col);
    };
  };
  add(SDLK_w, false, "W A S D with Shift", "moves the node whose history is shown", nullptr);
  out.back().act = nullptr;
  add(SDLK_w, true, "", "", move(-1, 0));
  add(SDLK_s, true, "", "", move(1, 0));
  add(SDLK_a, true, "", "", move(0, -1));
  add(SDLK_d, true, "", "", move(0, 1));
  add(SDLK_ESCAPE, false, "Escape", "lets go of node and place", [](ReplayModel& m) {
    m.pin(std::nullopt);
    m.mark(std::nullopt);
  });
  out.push_back({SDLK_TAB, false, false, "Tab", "why, what to do next, evidence",
                 [this] { side_ = static_cast<Side>((static_cast<int>(side_) + 1) % kSides); }});
  out.push_back({SDLK_F4, false, false, "F4",
                 "begins or ends a touch test on frames as they arrive",
                 [this] { toggle_touch_test(); }});
  out.push_back({SDLK_t, false, true, "Ctrl+T", "saves the result of a touch test",
                 [this] { save_touch_test(); }});
  out.push_back({SDLK_r, false, true, "Ctrl+R", "opens the dump again", [this] {
                   if (model_ && asked_.path != "-") open(asked_.path);
                 }});
  for (std::size_t n = 0; n < ViewMemory::kMostRecent; ++n)
    out.push_back({static_cast<SDL_Keycode>(SDLK_1 + static_cast<int>(n)), false, true,
                   n == 0 ? "Ctrl+1 to 8" : "", n == 0 ? "opens a dump that was opened before" : "",
                   [this, n] {
                     if (n < memory_.recent.size()) {
                       const std::string path = memory_.recent[n];
                       open(path);
                     }
                   }});
  return out;
}

}  // namespace bareglass::view
