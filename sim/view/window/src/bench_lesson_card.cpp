// The lesson beside the glass: text, prediction, what happened.
#include <fmt/format.h>

#include "bareglass/view/bench_page.hpp"

namespace bareglass::view {

namespace {

constexpr const char* kCaution =
    "On a real device: no patient connected, marked as out of use, only the maker's cleaning "
    "agents.";

void paragraph(const std::string& text) {
  ImGui::PushTextWrapPos(0.0F);
  ImGui::TextUnformatted(text.c_str(), text.c_str() + text.size());
  ImGui::PopTextWrapPos();
  ImGui::Spacing();
}

}  // namespace

void BenchPage::draw_lesson(const Theme& theme, Area area) {
  LessonRun& run = *lesson_;
  ImGui::SetCursorPos({area.x, area.y});
  ImGui::BeginChild("lesson", {area.w, area.h}, true);
  ImGui::PushFont(theme.small);
  ImGui::TextDisabled("%s", fmt::format("{}, step {} of {}", run.lesson().title,
                                        run.step_number() + 1, run.lesson().steps.size())
                                .c_str());
  ImGui::PopFont();
  if (run.stage() == LessonRun::Stage::finished) {
    ImGui::PushFont(theme.strong);
    ImGui::TextUnformatted("The lesson is over.");
    ImGui::PopFont();
    if (ImGui::Button("Back to the free bench", {-1, 0})) leave_lesson();
    ImGui::EndChild();
    return;
  }
  ImGui::PushFont(theme.lesson_strong);
  ImGui::TextUnformatted(run.step().title.c_str());
  ImGui::PopFont();
  ImGui::PushFont(theme.lesson);
  paragraph(run.text());
  if (!run.step().question.empty()) {
    ImGui::PushFont(theme.lesson_strong);
    paragraph(run.step().question);
    ImGui::PopFont();
  }
  draw_choices(theme);
  if (lesson_ && run.stage() == LessonRun::Stage::answered) {
    ImGui::Separator();
    if (!answer_shown_) ImGui::SetScrollHereY(0.15F);
    if (!run.step().choices.empty() && !run.right_choice())
      paragraph("What happened fits none of these answers, or several: the lesson is wrong here.");
    paragraph(run.after());
    if (ImGui::Button("Next  (Enter)", {-1, 0})) go_on();
  }
  if (lesson_) answer_shown_ = run.stage() == LessonRun::Stage::answered;
  if (lesson_ && run.stage() == LessonRun::Stage::running)
    ImGui::TextDisabled("It happens now ...");
  ImGui::PopFont();
  ImGui::PushFont(theme.small);
  ImGui::PushTextWrapPos(0.0F);
  ImGui::TextDisabled("%s", kCaution);
  ImGui::PopTextWrapPos();
  const float half = 0.5F * (ImGui::GetContentRegionAvail().x - theme.px(6));
  if (ImGui::Button("Lessons  (F2)", {half, 0})) lesson_list_ = true;
  ImGui::SameLine(0, theme.px(6));
  if (ImGui::Button("Leave  (F3)", {half, 0})) leave_lesson();
  ImGui::PopFont();
  ImGui::EndChild();
}

void BenchPage::draw_choices(const Theme& theme) {
  LessonRun& run = *lesson_;
  const bool asking = run.stage() == LessonRun::Stage::asking;
  if (run.step().choices.empty()) {
    if (asking && ImGui::Button("Go on  (Enter)", {-1, 0})) go_on();
    return;
  }
  for (std::size_t k = 0; k < run.step().choices.size(); ++k) {
    const bool mine = run.prediction() == k;
    const bool right = run.right_choice() == k;
    std::string label =
        fmt::format("{}  {}", static_cast<char>('A' + k), run.step().choices[k].text);
    if (mine && right)
      label += "\n     Predicted, and it happened.";
    else if (mine)
      label += "\n     Predicted.";
    else if (right)
      label += "\n     This is what happened.";
    const ImVec2 low = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    const ImVec2 text = ImGui::CalcTextSize(label.c_str(), nullptr, false, width - theme.px(24));
    const float height = text.y + theme.px(10);
    ImGui::PushID(static_cast<int>(k));
    const bool pressed = ImGui::InvisibleButton("choice", {width, height});
    const bool hovered = ImGui::IsItemHovered() && asking;
    ImGui::PopID();
    ImDrawList& list = *ImGui::GetWindowDrawList();
    const ImU32 paper = right             ? IM_COL32(214, 232, 228, 255)
                        : mine || hovered ? colour::kAccentLight
                                          : IM_COL32(240, 237, 228, 255);
    list.AddRectFilled(low, {low.x + width, low.y + height}, paper);
    if (right) list.AddRectFilled(low, {low.x + theme.px(5), low.y + height}, colour::kOn);
    list.AddText(ImGui::GetFont(), ImGui::GetFontSize(),
                 {low.x + theme.px(12), low.y + theme.px(5)}, colour::kInk, label.c_str(), nullptr,
                 width - theme.px(24));
    if (pressed && asking) answer(k);
  }
  if (asking)
    ImGui::TextDisabled("Predict first: press A to %c.",
                        static_cast<char>('A' + run.step().choices.size() - 1));
}

void BenchPage::draw_lesson_list(const Theme& theme, Area area) {
  ImGui::SetCursorPos({area.x, area.y});
  ImGui::BeginChild("lessons", {area.w, area.h}, true);
  ImGui::PushFont(theme.strong);
  ImGui::TextUnformatted("Lessons");
  ImGui::PopFont();
  const Lesson* chosen = nullptr;
  for (const Lesson& lesson : built_in_lessons()) {
    if (ImGui::Button(lesson.title.c_str(), {-1, 0})) chosen = &lesson;
    ImGui::PushFont(theme.small);
    ImGui::PushTextWrapPos(0.0F);
    ImGui::TextDisabled("%s", lesson.about.c_str());
    ImGui::PopTextWrapPos();
    ImGui::PopFont();
  }
  ImGui::EndChild();
  if (chosen != nullptr) attempt([&] { give_lesson(*chosen); });
}

}  // namespace bareglass::view
