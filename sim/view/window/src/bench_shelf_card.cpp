// The left-hand side of the bench: what can be put on the glass, and the thing that is selected.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/view/bench_page.hpp"
#include "glass_canvas.hpp"
#include "replay_drawing.hpp"

namespace bareglass::view {

void BenchPage::draw_shelf(const Theme& theme, Area area) {
  constexpr const char* kKeys[kShelfItems] = {"1", "2", "3", "4", "5", "6",
                                              "7", "8", "9", "0", "-", "="};
  begin_area("shelf", area.x, area.y, area.w, area.h, true, true);
  ImGui::PushFont(theme.strong);
  ImGui::TextUnformatted("Put on the glass");
  ImGui::PopFont();
  ImDrawList& list = *ImGui::GetWindowDrawList();
  // Room for what stands below the shelf; in a low window its buttons are lower.
  const float spacing = ImGui::GetStyle().ItemSpacing.y;
  const float tall = std::floor(
      std::clamp((area.h - theme.px(200)) / kShelfItems - spacing, theme.px(19), theme.px(28)));
  const bool low = tall < theme.px(25);
  for (const ShelfEntry& entry : shelf()) {
    const auto index = static_cast<std::size_t>(entry.item);
    const bool held = in_hand_ == entry.item;
    if (held) ImGui::PushStyleColor(ImGuiCol_Button, colour::kAccentLight);
    const ImVec2 at = ImGui::GetCursorScreenPos();
    ImGui::PushStyleVar(ImGuiStyleVar_ButtonTextAlign, {0.0F, 0.5F});
    ImGui::PushStyleVar(ImGuiStyleVar_FramePadding, {theme.px(8), 0.0F});
    const std::string label = fmt::format("        {}", entry.name);
    if (ImGui::Button(label.c_str(), {area.w - theme.px(20), tall}))
      in_hand_ = held ? std::nullopt : std::optional<ShelfItem>(entry.item);
    ImGui::PopStyleVar(2);
    if (held) ImGui::PopStyleColor();
    if (ImGui::IsItemHovered()) ImGui::SetTooltip("%s", entry.hint);
    const panel::Look look = look_of(from_shelf(entry.item, {0, 0}, {}).front());
    draw_icon(list, {at.x + theme.px(19), at.y + 0.5F * tall}, theme.px(low ? 14.0F : 18.0F), look);
    list.AddText(theme.small, theme.small->FontSize,
                 {at.x + area.w - theme.px(38), at.y + 0.5F * (tall - theme.small->FontSize)},
                 colour::kFaint, kKeys[index]);
  }
  ImGui::PushFont(theme.small);
  ImGui::PushTextWrapPos(area.w - theme.px(10));
  ImGui::TextDisabled("%s", in_hand_ ? "Click on the glass to put it down."
                            : low    ? "Click here, then on the glass."
                                     : "Click here, then on the glass. Drag things to move them; "
                                       "right click takes one away.");
  ImGui::PopTextWrapPos();
  ImGui::PopFont();
  draw_selected(theme);
  ImGui::EndChild();
}

void BenchPage::draw_selected(const Theme& theme) {
  BenchModel& shown = bench();
  ImGui::Separator();
  const bool some = selected_ && *selected_ < shown.story().things.size() &&
                    shown.unit().timeline().thing(*selected_).there;
  const float half = 0.5F * (ImGui::GetContentRegionAvail().x - theme.px(6));
  if (some) {
    const std::size_t thing = *selected_;
    const panel::ThingSpec& spec = shown.story().things[thing];
    ImGui::PushFont(theme.strong);
    ImGui::TextUnformatted(spec.name.c_str());
    ImGui::PopFont();
    if (ImGui::Button("Turn", {half, 0})) attempt([&] { shown.turn(thing, 15.0); });
    ImGui::SameLine(0, theme.px(6));
    if (ImGui::Button("Dry", {half, 0})) attempt([&] { shown.dry(thing, 8.0); });
    if (ImGui::Button("Peel off", {half, 0})) attempt([&] { shown.take_away(thing, "peel"); });
    if (!spec.is_film) {
      ImGui::SameLine(0, theme.px(6));
      const bool bezel = shown.unit().timeline().thing(thing).device_pf > 0.0;
      if (ImGui::Button(bezel ? "Isolate" : "To bezel", {half, 0}))
        attempt([&] { shown.connect(thing, 0.0, !bezel); });
    }
  }
  if (ImGui::Button("Wipe the glass", {-1, 0})) attempt([&] { shown.wipe_all(); });
  const std::string back = shown.undo_label();
  const std::string again = shown.redo_label();
  if (ImGui::Button("Undo", {half, 0})) attempt([&] { shown.undo(); });
  if (!back.empty() && ImGui::IsItemHovered()) ImGui::SetTooltip("%s", back.c_str());
  ImGui::SameLine(0, theme.px(6));
  if (ImGui::Button("Redo", {half, 0})) attempt([&] { shown.redo(); });
  if (!again.empty() && ImGui::IsItemHovered()) ImGui::SetTooltip("%s", again.c_str());
}

}  // namespace bareglass::view
