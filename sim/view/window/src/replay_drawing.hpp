#pragma once
// What the areas of the replay share.

#include <string>

#include "bareglass/replay/account.hpp"
#include "bareglass/view/theme.hpp"

namespace bareglass::view {

/// A child window of its own; end it with ImGui::EndChild(). `scrolls`: if it holds more than fits.
void begin_area(const char* name, float x, float y, float w, float h, bool card,
                bool scrolls = false);
/// Colour of a state of input, and the same for a ground under text.
ImU32 colour_of(InputState state);
ImU32 pale_of(InputState state);
/// The word for a state where room is short: "looks".
const char* short_word(InputState state);
/// File, unit, length, panel, damage: one line.
std::string about_dump(const host::Account& account, const std::string& path);
/// Text around a point, and in a box at a point kept between two x.
void text_in_middle(ImDrawList& list, ImFont* font, ImVec2 middle, ImU32 colour, const char* text);
void boxed_text(ImDrawList& list, const Theme& theme, ImVec2 low, float least_x, float most_x,
                ImU32 ground, const char* text);
/// `text` with line ends put in so that no line is wider than `width` pixels. Breaks at blanks
/// only, and never between a number and its unit.
std::string wrapped(const ImFont* font, const std::string& text, float width);
/// Parallel lines from lower left to upper right, `step` pixels apart, within a rectangle.
void hatch(ImDrawList& list, ImVec2 low, ImVec2 high, float step, ImU32 colour);

}  // namespace bareglass::view
