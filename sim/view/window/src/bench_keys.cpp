// Everything at the bench, from the keyboard.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/view/bench_page.hpp"

namespace bareglass::view {

namespace {

constexpr double kStep_mm = 2.5;

KeyBinding key(SDL_Keycode code, const char* shown, const char* what, std::function<void()> act) {
  return {code, false, false, shown, what, std::move(act)};
}

KeyBinding with_shift(KeyBinding binding) {
  binding.shift = true;
  return binding;
}

KeyBinding with_control(KeyBinding binding) {
  binding.control = true;
  return binding;
}

struct Arrow {
  SDL_Keycode code;
  double x, y;
};
constexpr Arrow kArrows[] = {
    {SDLK_LEFT, -1, 0}, {SDLK_RIGHT, 1, 0}, {SDLK_UP, 0, -1}, {SDLK_DOWN, 0, 1}};

}  // namespace

std::vector<KeyBinding> BenchPage::keys() {
  std::vector<KeyBinding> out;
  add_glass_keys(out);
  add_device_keys(out);
  add_page_keys(out);
  return out;
}

void BenchPage::add_glass_keys(std::vector<KeyBinding>& out) {
  constexpr SDL_Keycode kDigits[kShelfItems] = {SDLK_1, SDLK_2, SDLK_3,     SDLK_4,
                                                SDLK_5, SDLK_6, SDLK_7,     SDLK_8,
                                                SDLK_9, SDLK_0, SDLK_MINUS, SDLK_EQUALS};
  for (std::size_t n = 0; n < kShelfItems; ++n) {
    const ShelfItem item = shelf()[n].item;
    out.push_back(key(kDigits[n], n == 0 ? "1 to 9, 0, -, =" : "",
                      "puts a thing of the shelf where the cross is",
                      [this, item] { put(item, cursor_); }));
  }
  for (const Arrow a : kArrows) {
    out.push_back(key(a.code, a.x < 0 ? "Arrows" : "", "move the cross",
                      [this, a] { move_cursor(kStep_mm * a.x, kStep_mm * a.y); }));
    out.push_back(with_shift(key(a.code, a.x < 0 ? "Shift+arrows" : "", "move the selected thing",
                                 [this, a] { move_selected(kStep_mm * a.x, kStep_mm * a.y); })));
  }
  out.push_back(key(SDLK_TAB, "Tab", "selects the next thing", [this] { select_next(); }));
  out.push_back(key(SDLK_DELETE, "Delete", "peels the selected thing off", [this] {
    if (selected_) attempt([&] { bench().take_away(*selected_, "peel"); });
  }));
  const auto turn = [this](double degrees) {
    if (selected_) attempt([&] { bench().turn(*selected_, degrees); });
  };
  out.push_back(key(SDLK_r, "R, Shift+R", "turns it", [turn] { turn(15.0); }));
  out.push_back(with_shift(key(SDLK_r, "", "", [turn] { turn(-15.0); })));
  out.push_back(key(SDLK_y, "Y", "lets it dry", [this] {
    if (selected_) attempt([&] { bench().dry(*selected_, 8.0); });
  }));
  out.push_back(key(SDLK_g, "G", "connects it to the bezel, or isolates it", [this] {
    if (!selected_) return;
    const bool bezel = bench().unit().timeline().thing(*selected_).device_pf > 0.0;
    attempt([&] { bench().connect(*selected_, 0.0, !bezel); });
  }));
  out.push_back(key(SDLK_w, "W, Shift+W", "wipes the glass, fingers stay or go",
                    [this] { attempt([&] { bench().wipe_all(); }); }));
  out.push_back(
      with_shift(key(SDLK_w, "", "", [this] { attempt([&] { bench().wipe_all(true); }); })));
}

void BenchPage::add_device_keys(std::vector<KeyBinding>& out) {
  out.push_back(key(SDLK_p, "P", "power on or off", [this] { toggle_power(); }));
  out.push_back(
      key(SDLK_o, "O", "off and on again", [this] { attempt([&] { bench().power_cycle(); }); }));
  out.push_back(key(SDLK_k, "K", "into the dock or out of it",
                    [this] { attempt([&] { bench().dock(!bench().surroundings().docked); }); }));
  out.push_back(key(SDLK_u, "U", "next way to earth", [this] { next_earth(); }));
  out.push_back(key(SDLK_v, "V", "next state of the battery", [this] { next_battery(); }));
  out.push_back(key(SDLK_n, "N", "noise of the charger", [this] { toggle_charger_noise(); }));
  out.push_back(key(SDLK_x, "X", "cuts the row at the cross", [this] { cut_here(); }));
  out.push_back(key(SDLK_t, "T", "loosens the tail of the rows at the cross",
                    [this] { loosen_tail_here(); }));
  out.push_back(
      key(SDLK_j, "J", "joins the row at the cross to the next", [this] { bridge_here(); }));
  out.push_back(
      key(SDLK_h, "H", "repairs all lines", [this] { attempt([&] { bench().repair_all(); }); }));
  out.push_back(key(SDLK_i, "I", "next start policy", [this] {
    attempt([&] {
      bench().set_policy(
          static_cast<StartPolicy>((static_cast<int>(bench().story().policy) + 1) % 4));
    });
  }));
  const auto touch = [this](int by) {
    Settings t = bench().story().thresholds;
    t.touch_on_permille =
        static_cast<std::uint16_t>(std::clamp(t.touch_on_permille + by, 100, 800));
    t.touch_off_permille = static_cast<std::uint16_t>(t.touch_on_permille * 2 / 3);
    attempt([&] { bench().set_thresholds(t); });
  };
  out.push_back(
      key(SDLK_LEFTBRACKET, "[ and ]", "touch threshold down and up", [touch] { touch(-50); }));
  out.push_back(key(SDLK_RIGHTBRACKET, "", "", [touch] { touch(50); }));
  out.push_back(key(SDLK_m, "M", "next cover glass", [this] { next_glass(); }));
  out.push_back(key(SDLK_F5, "F5", "types the name of a panel file; Enter opens it",
                    [this] { focus_ = Field::panel_file; }));
  out.push_back(key(SDLK_F6, "F6", "types rows, Tab, columns; Enter uses them",
                    [this] { focus_ = Field::rows; }));
}

void BenchPage::add_page_keys(std::vector<KeyBinding>& out) {
  out.push_back(key(SDLK_l, "L", "next layer: glass, raw, baseline, difference", [this] {
    layer_ = static_cast<Layer>((static_cast<int>(layer_) + 1) % kLayers);
  }));
  out.push_back(
      key(SDLK_SPACE, "Space", "stops time and lets it run", [this] { paused_ = !paused_; }));
  out.push_back(with_control(
      key(SDLK_z, "Ctrl+Z, Ctrl+Y", "undo, redo", [this] { attempt([&] { bench().undo(); }); })));
  out.push_back(with_control(key(SDLK_y, "", "", [this] { attempt([&] { bench().redo(); }); })));
  out.push_back(with_control(
      key(SDLK_r, "Ctrl+R", "begins or ends a recording", [this] { toggle_recording(); })));
  out.push_back(with_control(key(SDLK_s, "Ctrl+S", "saves the scene", [this] { save_scene(); })));
  out.push_back(key(SDLK_F2, "F2", "list of lessons", [this] { lesson_list_ = !lesson_list_; }));
  out.push_back(key(SDLK_F3, "F3", "leaves the lesson", [this] { leave_lesson(); }));
  for (int n = 0; n < 5; ++n)
    out.push_back(key(SDLK_a + n, n == 0 ? "A to E" : "", "answers a lesson's question",
                      [this, n] { answer(static_cast<std::size_t>(n)); }));
  out.push_back(key(SDLK_F4, "F4", "begins or ends a touch test", [this] { toggle_touch_test(); }));
  out.push_back(with_control(
      key(SDLK_t, "Ctrl+T", "saves the result of a touch test", [this] { save_touch_test(); })));
  out.push_back(key(SDLK_RETURN, "Enter", "goes on in a lesson; finger down or up in a touch test",
                    [this] { go_on(); }));
}

int BenchPage::row_here() {
  const double row = cursor_.y / bench().story().panel.rows.pitch_mm;
  return std::clamp(static_cast<int>(std::lround(row)), 0, bench().story().setup.rows - 1);
}

int BenchPage::column_here() {
  const double column = cursor_.x / bench().story().panel.columns.pitch_mm;
  return std::clamp(static_cast<int>(std::lround(column)), 0, bench().story().setup.columns - 1);
}

void BenchPage::move_cursor(double dx_mm, double dy_mm) {
  const GlassSize size = glass_size(bench().story());
  cursor_ = {std::clamp(cursor_.x + dx_mm, -2.5, size.width_mm),
             std::clamp(cursor_.y + dy_mm, -2.5, size.height_mm)};
  cursor_shown_ = true;
  if (touch_ && touch_by_key_) touch_->slide(cursor_);
}

void BenchPage::move_selected(double dx_mm, double dy_mm) {
  if (!selected_) return;
  const panel::ThingState state = bench().unit().timeline().thing(*selected_);
  if (!state.there) return;
  attempt([&] { bench().move(*selected_, {state.place.x + dx_mm, state.place.y + dy_mm}); });
}

void BenchPage::select_next() {
  const std::vector<Lying> all = bench().lying();
  if (all.empty()) {
    selected_.reset();
    return;
  }
  const auto now =
      std::find_if(all.begin(), all.end(), [&](const Lying& l) { return selected_ == l.thing; });
  selected_ = now == all.end() || now + 1 == all.end() ? all.front().thing : (now + 1)->thing;
}

void BenchPage::toggle_power() {
  attempt([&] { bench().power(!bench().unit().powered()); });
}

void BenchPage::next_earth() {
  const double now = bench().surroundings().earth_pf;
  const double next = std::isinf(now) ? 100.0
                      : now > 50.0    ? 10.0
                      : now > 5.0     ? 3.0
                                      : panel::kConnected;
  attempt([&] { bench().set_earth(next); });
}

void BenchPage::next_battery() {
  const double now = bench().surroundings().supply_mv;
  attempt([&] { bench().set_battery(now > 3300.0 ? 3000.0 : now > 2800.0 ? 2600.0 : 3700.0); });
}

void BenchPage::next_glass() {
  const double now = bench().story().panel.layers.front().thickness_mm;
  const double next = now < 0.9 ? 1.1 : now < 1.5 ? 2.0 : now < 2.5 ? 3.0 : 0.7;
  use_glass(next);
}

void BenchPage::toggle_charger_noise() {
  const bool noisy = bench().surroundings().charger.amplitude_v > 0.0;
  attempt([&] { bench().set_charger_noise(noisy ? 0.0 : 2.0, 248.6); });
}

void BenchPage::cut_here() {
  LineFault f;
  f.kind = LineFault::Kind::cut;
  f.first = f.last = row_here();
  f.at = std::clamp(column_here(), 1, bench().story().setup.columns - 1);
  attempt([&] { bench().break_line(f); });
}

// Three rows that share a plug: now and then their contact is bad.
void BenchPage::loosen_tail_here() {
  LineFault f;
  f.kind = LineFault::Kind::raised_resistance;
  f.first = row_here();
  f.last = std::min(f.first + 2, bench().story().setup.rows - 1);
  f.ohm = 60'000.0;
  f.mean_there_s = 1.5;
  f.mean_away_s = 1.0;
  attempt([&] { bench().break_line(f); });
}

void BenchPage::bridge_here() {
  LineFault f;
  f.kind = LineFault::Kind::bridged;
  f.first = std::min(row_here(), bench().story().setup.rows - 2);
  f.last = f.first + 1;
  f.ohm = 20.0;
  attempt([&] { bench().break_line(f); });
}

void BenchPage::toggle_recording() {
  attempt([&] {
    if (bench().recording()) {
      bench().stop_recording();
      told_ = "The recording is complete.";
    } else {
      std::string path;
      do path = fmt::format("{}/bench-{}.frames", folder_, ++kept_);
      while (std::filesystem::exists(path));
      bench().record(path);
      told_ = "Recording to " + plain::harmless(path);
    }
    told_for_s_ = 6.0;
  });
}

void BenchPage::save_scene() {
  attempt([&] {
    std::string path;
    do path = fmt::format("{}/bench-{}.toml", folder_, ++kept_);
    while (std::filesystem::exists(path));
    bench().save_scene(path);
    told_ = "The scene is saved as " + plain::harmless(path);
    told_for_s_ = 6.0;
  });
}

void BenchPage::answer(std::size_t choice) {
  if (!lesson_ || lesson_->stage() != LessonRun::Stage::asking) return;
  if (choice < lesson_->step().choices.size()) lesson_->predict(choice);
}

void BenchPage::go_on() {
  if (touch_) {
    touch_by_key_ = !touch_->pressed();
    attempt([&] { touch_by_key_ ? touch_->press(cursor_) : touch_->release(); });
  }
  if (!lesson_) return;
  if (lesson_->stage() == LessonRun::Stage::asking && lesson_->step().choices.empty())
    lesson_->go_on();
  else if (lesson_->stage() == LessonRun::Stage::answered)
    attempt([&] {
      selected_.reset();
      lesson_->next();
    });
  else if (lesson_->stage() == LessonRun::Stage::finished)
    leave_lesson();
}

}  // namespace bareglass::view
