#pragma once
// A guided touch test on the screen: targets on the glass, what is asked for and how it went beside
// it. Bench and replay share it.

#include <functional>
#include <string>

#include "bareglass/touch/touch_test.hpp"
#include "bareglass/view/theme.hpp"

namespace bareglass::view {

/// Rings and lines of the plan; the one asked for now stands out. `pixel_of`: of a place of the
/// plan.
void draw_touch_targets(ImDrawList& list, const Theme& theme, const host::TouchTest& test,
                        const std::function<ImVec2(host::PointMm)>& pixel_of);

/// What a button of the card asks for.
enum class TouchAct { none, begin_again, save, end };
/// The card, in the current window. `hindrance`: why nothing can come in now; empty: nothing
/// hinders.
TouchAct draw_touch_card(const Theme& theme, const host::TouchTest& test,
                         const std::string& hindrance);

/// Writes a result to the first free name "touch-test-N.txt" in `folder`; returns the path. Throws
/// host::CaptureWriteError.
std::string save_touch_text(const std::string& folder, const std::string& text);

}  // namespace bareglass::view
