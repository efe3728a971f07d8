#pragma once
// Colours and fonts of the window. Two voices: ink on paper for words, blue against orange for
// signals (host::diverging_colour), so that no meaning rests on red against green.

#include <imgui.h>

namespace bareglass::view {

struct Theme {
  float scale = 1.0F;  ///< pixels per point
  ImFont* text = nullptr;
  ImFont* strong = nullptr;
  ImFont* small = nullptr;
  ImFont* lesson = nullptr;  ///< for reading from the back of a room
  ImFont* lesson_strong = nullptr;
  ImFont* title = nullptr;
  ImFont* large = nullptr;

  /// `points` in pixels of this window.
  float px(float points) const { return points * scale; }
};

namespace colour {
constexpr ImU32 kPaper = IM_COL32(243, 241, 234, 255);
constexpr ImU32 kCard = IM_COL32(253, 252, 248, 255);
constexpr ImU32 kLine = IM_COL32(203, 199, 186, 255);
constexpr ImU32 kInk = IM_COL32(35, 44, 52, 255);
constexpr ImU32 kFaint = IM_COL32(104, 112, 116, 255);
constexpr ImU32 kAccent = IM_COL32(76, 60, 116, 255);
constexpr ImU32 kAccentLight = IM_COL32(226, 220, 240, 255);
constexpr ImU32 kOn = IM_COL32(38, 104, 96, 255);
constexpr ImU32 kOff = IM_COL32(148, 52, 84, 255);
constexpr ImU32 kWait = IM_COL32(146, 104, 20, 255);
constexpr ImU32 kBezel = IM_COL32(58, 62, 70, 255);
constexpr ImU32 kGlass = IM_COL32(232, 236, 236, 255);
}  // namespace colour

/// Loads the fonts into the current ImGui context (DejaVu where it is installed, else ImGui's own)
/// and sets the style, for `scale` pixels per point.
Theme make_theme(float scale);

}  // namespace bareglass::view
