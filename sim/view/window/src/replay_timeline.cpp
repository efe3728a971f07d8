// The whole dump as one strip: states, findings, decisions, damage; held and dragged to look.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/view/plain_words.hpp"
#include "bareglass/view/replay_page.hpp"
#include "replay_drawing.hpp"

namespace bareglass::view {

namespace {

/// Steps of an axis that give round numbers and at most `most` labels.
double axis_step(double span, double most) {
  const double rough = std::max(span, 1e-6) / std::max(most, 1.0);
  const double decade = std::pow(10.0, std::floor(std::log10(rough)));
  for (const double m : {1.0, 2.0, 5.0})
    if (m * decade >= rough) return m * decade;
  return 10.0 * decade;
}

}  // namespace

float ReplayPage::x_of(std::uint64_t at_us) const {
  const double end = static_cast<double>(std::max<std::uint64_t>(1, model_->end_us()));
  return strip_low_ +
         (strip_high_ - strip_low_) * static_cast<float>(static_cast<double>(at_us) / end);
}

void ReplayPage::draw_transport(const Theme& theme) {
  const auto button = [&](const char* label, float width) {
    ImGui::SameLine(0, theme.px(6));
    return ImGui::Button(label, {theme.px(width), theme.px(28)});
  };
  ImGui::SetCursorPosX(theme.px(4));
  if (button(model_->playing() ? "Pause" : "Play", 84)) model_->play(!model_->playing());
  if (button("-1", 40)) model_->step(-1);
  if (button("+1", 40)) model_->step(1);
  ImGui::PushStyleColor(ImGuiCol_Button, colour::kAccent);
  ImGui::PushStyleColor(ImGuiCol_Text, IM_COL32_WHITE);
  if (button("To the decision", 136)) model_->to_decision();
  ImGui::PopStyleColor(2);
  if (button("Start", 60)) model_->to_start();
  if (button("End", 60)) model_->to_end();
  ImGui::SameLine(0, theme.px(24));
  if (button("Slower", 66)) model_->change_speed(-1);
  ImGui::SameLine(0, theme.px(8));
  ImGui::AlignTextToFramePadding();
  ImGui::PushFont(theme.strong);
  ImGui::TextUnformatted(fmt::format("{:g} x", model_->speed()).c_str());
  ImGui::PopFont();
  if (button("Faster", 66)) model_->change_speed(1);
  if (ImGui::GetWindowWidth() < theme.px(1100)) return;
  ImGui::SameLine(ImGui::GetWindowWidth() - theme.px(430));
  ImGui::PushFont(theme.small);
  ImGui::TextDisabled("F1 keys   Space play   Left, Right frame   Up, Down sentence   D decision");
  ImGui::PopFont();
}

void ReplayPage::draw_timeline(const Theme& theme, Area area) {
  begin_area("timeline", area.x, area.y, area.w, area.h, true);
  draw_transport(theme);
  const ImVec2 corner = ImGui::GetWindowPos();
  draw_strip(theme, {corner.x + theme.px(14), corner.y + theme.px(44)},
             {corner.x + area.w - theme.px(14), corner.y + area.h - theme.px(6)});
  ImGui::EndChild();
}

void ReplayPage::draw_strip(const Theme& theme, ImVec2 low, ImVec2 high) {
  strip_low_ = low.x;
  strip_high_ = high.x;
  ImDrawList& list = *ImGui::GetWindowDrawList();
  const float states = low.y + theme.px(16);
  const float findings = states + theme.px(24);
  const float axis = high.y - theme.px(20);
  strip_y_ = 0.5F * (states + findings);
  ImGui::SetCursorScreenPos({low.x, low.y});
  ImGui::InvisibleButton("strip", {high.x - low.x, high.y - low.y});
  dragging_ = ImGui::IsItemActive();
  if (dragging_) {
    const float share =
        std::clamp((ImGui::GetIO().MousePos.x - low.x) / (high.x - low.x), 0.0F, 1.0F);
    model_->play(false);
    model_->seek(static_cast<std::uint64_t>(static_cast<double>(share) *
                                            static_cast<double>(model_->end_us())));
  }
  draw_states(theme, states, findings);
  draw_marks(theme, findings, axis);
  const double span = static_cast<double>(model_->end_us()) / 1e6;
  const double step = axis_step(span, static_cast<double>((high.x - low.x) / theme.px(90)));
  list.AddLine({low.x, axis}, {high.x, axis}, colour::kFaint);
  for (const ReplayModel::AxisMark& mark : model_->axis_marks(step)) {
    const float x = x_of(mark.at_us);
    list.AddLine({x, axis}, {x, axis + theme.px(5)}, colour::kFaint);
    text_in_middle(
        list, theme.small,
        {std::clamp(x, low.x + theme.px(10), high.x - theme.px(12)), axis + theme.px(13)},
        colour::kFaint, fmt::format("{:g} s", std::round(mark.seconds / step) * step).c_str());
  }
  const float now = std::floor(x_of(model_->at_us()));
  list.AddRectFilled({now - theme.px(1), low.y + theme.px(2)}, {now + theme.px(2), axis},
                     colour::kInk);
  list.AddTriangleFilled({now - theme.px(7), low.y}, {now + theme.px(8), low.y},
                         {now + 0.5F, low.y + theme.px(11)}, colour::kInk);
}

void ReplayPage::draw_states(const Theme& theme, float top, float bottom) {
  ImDrawList& list = *ImGui::GetWindowDrawList();
  const std::vector<StateSpan>& spans = model_->index().states();
  for (std::size_t n = 0; n < spans.size(); ++n) {
    const float from = x_of(spans[n].from_us);
    const float to = n + 1 < spans.size() ? x_of(spans[n + 1].from_us) : strip_high_;
    const InputState state = spans[n].state;
    list.AddRectFilled({from, top}, {std::max(to, from + 1), bottom - theme.px(2)}, pale_of(state));
    if (state != InputState::running)
      hatch(list, {from, bottom - theme.px(7)}, {to, bottom - theme.px(2)}, theme.px(5),
            colour_of(state));
    else
      list.AddRectFilled({from, bottom - theme.px(7)}, {to, bottom - theme.px(2)},
                         colour_of(state));
    list.AddRectFilled({from, top}, {from + 1, bottom - theme.px(2)}, colour_of(state));
    const char* word = short_word(state);
    const ImVec2 size = theme.small->CalcTextSizeA(theme.small->FontSize, 1e6F, 0, word);
    if (size.x + theme.px(8) < to - from)
      list.AddText(theme.small, theme.small->FontSize, {from + theme.px(5), top}, colour::kInk,
                   word);
  }
}

void ReplayPage::draw_marks(const Theme& theme, float top, float bottom) {
  ImDrawList& list = *ImGui::GetWindowDrawList();
  const float bar = top + theme.px(4);
  for (const FindingSpan& span : model_->index().findings()) {
    const float from = x_of(span.from_us);
    const float to = std::max(from + theme.px(3), span.to_us ? x_of(*span.to_us) : strip_high_);
    list.AddRectFilled({from, bar}, {to, bar + theme.px(15)}, colour::kAccentLight);
    list.AddRect({from, bar}, {to, bar + theme.px(15)}, colour::kAccent);
    const char* word = words_of(span.kind);
    const ImVec2 size = theme.small->CalcTextSizeA(theme.small->FontSize, 1e6F, 0, word);
    if (size.x + theme.px(8) < to - from)
      list.AddText(theme.small, theme.small->FontSize, {from + theme.px(4), bar}, colour::kAccent,
                   word);
  }
  const ImVec2 mouse = ImGui::GetIO().MousePos;
  std::string tip;
  float drawn = -1.0F;
  for (const Mark& mark : model_->index().marks()) {
    const float x = std::floor(x_of(mark.at_us));
    const bool strong = is_decision(mark) || mark.kind == Mark::Kind::damage;
    // One tick a pixel is all that can be seen.
    if (!strong && x <= drawn) continue;
    drawn = x;
    const ImU32 ink = mark.kind == Mark::Kind::entry ? colour::kInk : colour::kOff;
    const float r = theme.px(4);
    if (mark.kind != Mark::Kind::entry) {
      const float y = bottom - theme.px(7);
      list.AddLine({x - r, y - r}, {x + r, y + r}, ink, theme.px(2));
      list.AddLine({x - r, y + r}, {x + r, y - r}, ink, theme.px(2));
    } else if (is_decision(mark)) {
      list.AddTriangleFilled({x - r, bottom}, {x + r + 1, bottom}, {x + 0.5F, bottom - 2 * r}, ink);
    } else {
      list.AddRectFilled({x, bottom - theme.px(5)}, {x + 1, bottom}, ink);
    }
    if (std::abs(mouse.x - x) <= r && mouse.y > top && mouse.y <= bottom + theme.px(16) &&
        !dragging_ && tip.size() < 400) {
      const std::string words = words_of(mark, model_->account());
      if (!words.empty())
        tip += fmt::format("{}{:.3f} s  {}", tip.empty() ? "" : "\n",
                           model_->seconds_of(mark.at_us), words);
    }
  }
  if (!tip.empty() && ImGui::IsWindowHovered()) ImGui::SetTooltip("%s", tip.c_str());
}

}  // namespace bareglass::view
