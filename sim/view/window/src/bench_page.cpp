#include "bareglass/view/bench_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <stdexcept>
#include <utility>

#include "bareglass/view/bench_words.hpp"
#include "finding_drawing.hpp"
#include "glass_canvas.hpp"
#include "replay_drawing.hpp"

namespace bareglass::view {

namespace {

constexpr double kToldFor_s = 6.0;

ImU32 colour_of(const BenchModel& bench) {
  if (!bench.unit().powered()) return colour::kFaint;
  switch (bench.unit().device().state()) {
    case InputState::running:
      return colour::kOn;
    case InputState::off:
    case InputState::service:
    case InputState::paused:
      return colour::kOff;
    default:
      return colour::kWait;
  }
}

}  // namespace

BenchPage::BenchPage(panel::Scenario story)
    : free_(std::make_unique<BenchModel>(std::move(story))) {}

BenchPage::BenchPage(Lesson lesson) : free_(std::make_unique<BenchModel>(bare_bench())) {
  give_lesson(std::move(lesson));
}

BenchPage::~BenchPage() = default;

BenchModel& BenchPage::bench() { return lesson_ ? lesson_->bench() : *free_; }

void BenchPage::give_lesson(Lesson lesson) {
  end_touch_test();
  lesson_ = std::make_unique<LessonRun>(std::move(lesson));
  lesson_list_ = false;
  selected_.reset();
  in_hand_.reset();
}

void BenchPage::leave_lesson() {
  lesson_.reset();
  selected_.reset();
}

namespace {

enum class FileKind { lesson, panel, scenario };

/// Lessons have steps, panels have layers, scenarios neither.
FileKind kind_of_file(const std::string& path) {
  std::ifstream in(path);
  for (std::string line; std::getline(in, line);) {
    if (line.rfind("[[step]]", 0) == 0) return FileKind::lesson;
    if (line.rfind("[[layer]]", 0) == 0) return FileKind::panel;
  }
  return FileKind::scenario;
}

}  // namespace

void BenchPage::open_file(const std::string& path) {
  attempt([&] {
    switch (kind_of_file(path)) {
      case FileKind::lesson:
        return give_lesson(load_lesson(path));
      case FileKind::panel:
        return use_panel_file(path);
      case FileKind::scenario: {
        panel::Scenario story = panel::load_scenario(path);
        end_touch_test();
        leave_lesson();
        selected_.reset();
        return free_->load(std::move(story), "another scenario");
      }
    }
  });
}

std::string BenchPage::title() const { return "bareglass: live bench"; }

void BenchPage::close() {
  attempt([&] { bench().stop_recording(); });
}

void BenchPage::attempt(const std::function<void()>& what) {
  try {
    what();
  } catch (const std::exception& e) {
    told_ = e.what();
    told_for_s_ = kToldFor_s;
  }
}

void BenchPage::attempt_later(std::string told, std::function<void()> what) {
  told_ = std::move(told);
  told_for_s_ = kToldFor_s;
  later_ = std::move(what);
  later_is_due_ = false;
}

void BenchPage::update(double seconds) {
  if (later_ && later_is_due_) {
    told_.clear();
    attempt(std::exchange(later_, nullptr));
  }
  told_for_s_ -= seconds;
  if (told_for_s_ <= 0.0) told_.clear();
  if (paused_) return;
  if (!lesson_)
    free_->advance(seconds);
  else if (lesson_->stage() == LessonRun::Stage::running)
    lesson_->advance(seconds);
  else if (lesson_->stage() == LessonRun::Stage::answered)
    lesson_->bench().advance(seconds);  // the trainer may try it out
  if (!bench().recording_problem().empty() && told_.empty()) {
    told_ = bench().recording_problem();
    told_for_s_ = kToldFor_s;
  }
}

ImVec2 BenchPage::pixel_of(field::Point mm) const {
  return {origin_.x + static_cast<float>(mm.x) * px_per_mm_,
          origin_.y + static_cast<float>(mm.y) * px_per_mm_};
}

void BenchPage::put(ShelfItem item, field::Point at) {
  attempt([&] {
    const std::vector<std::size_t> things = bench().put(item, at);
    if (!things.empty()) selected_ = things.front();
  });
  in_hand_.reset();
}

void BenchPage::recall(const ViewMemory& memory) {
  constexpr const char* kWords[kLayers] = {"glass", "raw", "baseline", "difference"};
  for (int n = 0; n < kLayers; ++n)
    if (memory.bench_layer == kWords[n]) layer_ = static_cast<Layer>(n);
}

void BenchPage::remember(ViewMemory& memory) const {
  std::string word = name_of(layer_);
  word.front() = static_cast<char>(word.front() - 'A' + 'a');
  memory.bench_layer = word;
  if (width_ == 0) return;  // nothing has been drawn
  memory.width = std::clamp(width_, 640, 8192);
  memory.height = std::clamp(height_, 480, 8192);
}

void BenchPage::draw(const Theme& theme, float width, float height) {
  width_ = static_cast<int>(width / theme.scale);
  height_ = static_cast<int>(height / theme.scale);
  ImGui::SetNextWindowPos({0, 0});
  ImGui::SetNextWindowSize({width, height});
  ImGui::Begin("bench", nullptr,
               ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove |
                   ImGuiWindowFlags_NoSavedSettings | ImGuiWindowFlags_NoBringToFrontOnFocus);
  const float gap = theme.px(10);
  const float head = theme.px(78);
  const float shelf = theme.px(206);
  const float side = std::clamp(0.31F * width, theme.px(300), theme.px(460));
  draw_head(theme, {gap, gap, width - 2 * gap, head});
  const float top = head + 2 * gap;
  const float body = height - top - gap;
  draw_shelf(theme, {gap, top, shelf, body});
  draw_glass_area(theme, {shelf + 2 * gap, top, width - shelf - side - 4 * gap, body});
  const float right = width - side - gap;
  // In a low window a lesson has the side for itself; keys still work the device.
  const bool taught = lesson_ != nullptr || lesson_list_ || touch_ != nullptr;
  const float device_h = body < theme.px(560) ? 0.0F : std::min(0.3F * body, theme.px(215));
  const float lesson_h = taught ? body - device_h + (device_h > 0 ? 0.0F : gap) : 0.0F;
  if (touch_)
    draw_touch_area(theme, {right, top, side, lesson_h - gap});
  else if (lesson_list_)
    draw_lesson_list(theme, {right, top, side, lesson_h - gap});
  else if (lesson_)
    draw_lesson(theme, {right, top, side, lesson_h - gap});
  const float rest = body - lesson_h;
  const float panels = taught ? rest : std::min(rest, theme.px(390));
  if (!taught || device_h > 0) draw_side(theme, {right, top + lesson_h, side, panels});
  if (!taught && rest > panels + theme.px(60))
    draw_journal(theme, {right, top + panels + gap, side, rest - panels - gap});
  later_is_due_ = true;
  ImGui::End();
}

void BenchPage::draw_head(const Theme& theme, Area area) {
  BenchModel& shown = bench();
  begin_area("head", area.x, area.y, area.w, area.h, true);
  const ImVec2 low = ImGui::GetWindowPos();
  ImDrawList& list = *ImGui::GetWindowDrawList();
  list.AddRectFilled(low, {low.x + theme.px(12), low.y + area.h}, colour_of(shown));
  ImGui::SetCursorPos({theme.px(26), theme.px(9)});
  ImGui::PushFont(theme.large);
  ImGui::TextUnformatted(state_sentence(shown.unit().device(), shown.unit().powered()).c_str());
  ImGui::PopFont();
  ImGui::SetCursorPos({theme.px(26), theme.px(42)});
  ImGui::PushTextWrapPos(area.w - theme.px(190));
  const std::string reason = reason_sentence(shown.unit().device(), shown.unit().powered());
  const std::string said = told_.empty() ? reason : told_;
  ImGui::TextUnformatted(said.c_str());
  ImGui::PopTextWrapPos();
  const std::string clock = fmt::format("{:.1f} s", shown.now_s());
  ImGui::SetCursorPos({area.w - theme.px(170), theme.px(10)});
  ImGui::PushFont(theme.strong);
  ImGui::Text("%s%s", clock.c_str(), paused_ ? ", paused" : "");
  ImGui::PopFont();
  if (shown.recording()) {
    ImGui::SetCursorPos({area.w - theme.px(170), theme.px(30)});
    ImGui::TextUnformatted(fmt::format("recording: {} frames", shown.recorded_frames()).c_str());
  }
  ImGui::SetCursorPos({area.w - theme.px(170), theme.px(52)});
  ImGui::PushFont(theme.small);
  ImGui::TextDisabled("F1: keys    Space: pause");
  ImGui::PopFont();
  ImGui::EndChild();
}

void BenchPage::draw_glass_area(const Theme& theme, Area area) {
  BenchModel& shown = bench();
  begin_area("glass", area.x, area.y, area.w, area.h, false);
  const float button = (area.w - 3 * theme.px(6)) / 4;
  for (int n = 0; n < kLayers; ++n) {
    const auto which = static_cast<Layer>(n);
    if (n > 0) ImGui::SameLine(0, theme.px(6));
    const bool on = layer_ == which;
    if (on) ImGui::PushStyleColor(ImGuiCol_Button, colour::kAccentLight);
    if (ImGui::Button(name_of(which), {button, theme.px(26)})) layer_ = which;
    if (on) ImGui::PopStyleColor();
  }
  const ImVec2 corner = ImGui::GetWindowPos();
  const float legend = theme.px(40);
  const ImVec2 low{corner.x, corner.y + theme.px(32)};
  const ImVec2 high{corner.x + area.w, corner.y + area.h - legend};
  const GlassFrame frame = fit_glass(shown.story(), low, high, theme);
  origin_ = frame.origin;
  px_per_mm_ = frame.px_per_mm;
  ImDrawList& list = *ImGui::GetWindowDrawList();
  view::draw_glass(list, theme, frame);
  const LayerValues values = layer_values(shown, layer_);
  draw_layer(list, theme, frame, values);
  for (const Lying& l : shown.lying())
    draw_thing(list, theme, frame, shown.story().things[l.thing], l.state, !values.share.empty(),
               selected_ == l.thing);
  for (const Lying& l : shown.lying())
    draw_name(list, theme, frame, shown.story().things[l.thing], l.state);
  // What the device found of its lines; the damage itself is drawn over it.
  if (layer_ != Layer::things && shown.unit().powered()) {
    LabelRack rack(corner.x, corner.x + area.w);
    draw_findings(list, theme, frame, shown.unit().device(), shown.unit().t_us(), true, rack);
  }
  view::draw_faults(list, theme, frame, shown.unit().timeline().faults(), !values.share.empty());
  if (touch_) draw_targets(theme);
  draw_contacts(list, theme, frame, shown.contacts());
  if (cursor_shown_ || in_hand_) {
    const ImVec2 p = in_hand_ ? ImGui::GetIO().MousePos : frame.at(cursor_);
    const float r = theme.px(10);
    list.AddLine({p.x - r, p.y}, {p.x + r, p.y}, colour::kAccent, theme.px(2));
    list.AddLine({p.x, p.y - r}, {p.x, p.y + r}, colour::kAccent, theme.px(2));
  }
  draw_legend(list, theme, {corner.x, high.y + theme.px(6)}, {corner.x + area.w, corner.y + area.h},
              values);
  if (values.share.empty() && layer_ != Layer::things)
    list.AddText(theme.small, theme.small->FontSize, {corner.x, high.y + theme.px(8)},
                 colour::kFaint,
                 shown.unit().powered() ? "The panel is looking at the glass for the first time."
                                        : "Nothing is measured while the unit is switched off.");
  const ImVec2 mouse = ImGui::GetIO().MousePos;
  take_mouse(theme, mouse.x >= low.x && mouse.x < high.x && mouse.y >= low.y && mouse.y < high.y);
  ImGui::EndChild();
}

void BenchPage::take_mouse(const Theme& theme, bool over_glass) {
  BenchModel& shown = bench();
  const ImGuiIO& io = ImGui::GetIO();
  const field::Point at{static_cast<double>((io.MousePos.x - origin_.x) / px_per_mm_),
                        static_cast<double>((io.MousePos.y - origin_.y) / px_per_mm_)};
  if (touch_) {
    take_touch_mouse(at, over_glass && ImGui::IsWindowHovered());
    return;
  }
  if (shown.dragged()) {
    shown.drag_to({at.x - grip_.x, at.y - grip_.y});
    if (!io.MouseDown[0]) attempt([&] { shown.end_drag(); });
    return;
  }
  if (!over_glass || !ImGui::IsWindowHovered()) return;
  if (ImGui::IsMouseClicked(0)) {
    cursor_ = at;
    if (in_hand_) {
      put(*in_hand_, at);
      return;
    }
    const double reach = static_cast<double>(theme.px(6) / px_per_mm_);
    selected_ = shown.thing_at(at, reach);
    if (!selected_) return;
    const field::Point place = shown.unit().timeline().thing(*selected_).place;
    grip_ = {at.x - place.x, at.y - place.y};
    shown.begin_drag(*selected_);
  }
  if (ImGui::IsMouseClicked(1))
    if (const auto thing = shown.thing_at(at)) attempt([&] { shown.take_away(*thing, "peel"); });
}

}  // namespace bareglass::view
