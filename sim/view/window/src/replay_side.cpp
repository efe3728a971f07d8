// Why input is off, what to do next, what speaks for it: beside the glass.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/view/replay_page.hpp"
#include "bareglass/words/reconstruction_words.hpp"
#include "bareglass/words/text.hpp"
#include "replay_drawing.hpp"

namespace bareglass::view {

namespace {

constexpr const char* kShortNames[ReplayPage::kSides] = {"Why", "Next", "Evidence"};
constexpr const char* kSideNames[ReplayPage::kSides] = {"Why input is off", "What to do next",
                                                        "Evidence"};

void heading(const Theme& theme, const char* text) {
  ImGui::Spacing();
  ImGui::PushFont(theme.strong);
  ImGui::TextUnformatted(text);
  ImGui::PopFont();
}

void points(const Theme& theme, const std::vector<std::string>& sentences, bool numbered) {
  int n = 0;
  for (const std::string& sentence : sentences) {
    ImGui::TextUnformatted(numbered ? fmt::format("{}.", ++n).c_str() : "-");
    ImGui::SameLine(theme.px(numbered ? 34 : 26));
    ImGui::TextUnformatted(sentence.c_str());
  }
}

}  // namespace

void ReplayPage::draw_side(const Theme& theme, Area area) {
  begin_area("side", area.x, area.y, area.w, area.h, true);
  const float gap = theme.px(6);
  const float button = (area.w - theme.px(20) - 2 * gap) / 3.0F;
  for (int n = 0; n < kSides; ++n) {
    if (n > 0) ImGui::SameLine(0, gap);
    const auto which = static_cast<Side>(n);
    const bool on = side_ == which;
    if (on) {
      ImGui::PushStyleColor(ImGuiCol_Button, colour::kAccent);
      ImGui::PushStyleColor(ImGuiCol_Text, IM_COL32_WHITE);
    }
    const bool ends_on = model_->account().final_state == InputState::running;
    const char* name = button < theme.px(124) ? kShortNames[n]
                       : n == 0 && ends_on    ? "What happened"
                                              : kSideNames[n];
    if (ImGui::Button(name, {button, theme.px(28)})) side_ = which;
    if (on) ImGui::PopStyleColor(2);
  }
  ImGui::BeginChild("words");
  ImGui::PushTextWrapPos(ImGui::GetWindowContentRegionMax().x - theme.px(6));
  if (side_ == Side::why)
    draw_story(theme);
  else if (side_ == Side::next)
    draw_next_steps(theme);
  else
    draw_evidence(theme);
  ImGui::PopTextWrapPos();
  ImGui::EndChild();
  ImGui::EndChild();
}

void ReplayPage::draw_story(const Theme& theme) {
  const std::vector<StorySentence>& story = model_->story();
  const auto now = model_->current_sentence();
  ImDrawList& list = *ImGui::GetWindowDrawList();
  sentence_at_.assign(story.size(), {-1, -1});
  const float width = ImGui::GetWindowContentRegionMax().x - theme.px(4);
  const float left = theme.px(82);
  std::optional<std::size_t> chosen;
  for (std::size_t n = 0; n < story.size(); ++n) {
    const StorySentence& s = story[n];
    ImFont* font = s.decisive ? theme.strong : theme.text;
    const std::string text = wrapped(font, s.text, width - left - theme.px(8));
    const ImVec2 size = font->CalcTextSizeA(font->FontSize, 1e6F, 0.0F, text.c_str());
    const float head = s.decisive ? theme.px(18) : 0.0F;
    const float height = size.y + head + theme.px(8);
    const ImVec2 low = ImGui::GetCursorScreenPos();
    const ImVec2 high{low.x + width, low.y + height};
    ImGui::PushID(static_cast<int>(n));
    if (ImGui::InvisibleButton("sentence", {width, height})) chosen = n;
    const bool hovered = ImGui::IsItemHovered();
    ImGui::PopID();
    sentence_at_[n] = {low.x + 0.5F * width, low.y + 0.5F * height};
    if (now == n && scrolled_to_ != n) {
      ImGui::SetScrollHereY(0.4F);
      scrolled_to_ = n;
    }
    const bool later = s.at_us > model_->at_us();
    if (now == n)
      list.AddRectFilled(low, high, colour::kAccentLight);
    else if (hovered)
      list.AddRectFilled(low, high, IM_COL32(240, 236, 246, 255));
    if (s.decisive) {
      list.AddRectFilled(low, {low.x + theme.px(5), high.y}, colour::kAccent);
      list.AddText(theme.small, theme.small->FontSize, {low.x + left, low.y + theme.px(3)},
                   colour::kAccent, "the decision");
    }
    const ImU32 ink = later ? colour::kFaint : colour::kInk;
    list.AddText(theme.strong, theme.strong->FontSize,
                 {low.x + theme.px(10), low.y + head + theme.px(4)}, ink, s.time.c_str());
    list.AddText(font, font->FontSize, {low.x + left, low.y + head + theme.px(4)}, ink,
                 text.c_str());
  }
  if (story.empty()) ImGui::TextUnformatted("Nothing happened that would need telling.");
  if (model_->index().marks_left_out() > 0)
    ImGui::TextDisabled("%llu later events are not listed.",
                        static_cast<unsigned long long>(model_->index().marks_left_out()));
  if (chosen) model_->follow(*chosen);
}

void ReplayPage::draw_next_steps(const Theme& theme) {
  const host::Diagnosis& d = model_->diagnosis();
  heading(theme, "Cheapest first");
  std::vector<std::string> steps;
  for (const host::NextStep& step : d.next_steps) steps.push_back(step.text);
  points(theme, steps, true);
  heading(theme, "Before you work on the device");
  points(theme, d.cautions, false);
  if (!d.cannot_tell.empty()) heading(theme, "What this dump cannot tell");
  points(theme, d.cannot_tell, false);
}

void ReplayPage::draw_evidence(const Theme& theme) {
  const host::Account& a = model_->account();
  for (const host::CauseFound& c : model_->diagnosis().causes) {
    heading(theme, fmt::format("{} ({})", c.headline, host::name_of(c.sureness)).c_str());
    if (c.has_place) {
      ImGui::TextUnformatted(
          fmt::format("{}; {}", host::text::lines(c.box), host::text::place_mm(c.box, a.settings))
              .c_str());
      if (c.reconstruction) ImGui::TextUnformatted(host::text::size(*c.reconstruction).c_str());
      ImGui::PushID(&c);
      if (ImGui::Button("Show it")) model_->show_cause(c);
      ImGui::PopID();
    }
    points(theme, c.speaks_for, false);
    if (!c.speaks_against.empty()) ImGui::TextUnformatted("Against it:");
    points(theme, c.speaks_against, false);
  }
  if (!a.assumptions.empty()) heading(theme, "Assumed");
  points(theme, a.assumptions, false);
}

}  // namespace bareglass::view
