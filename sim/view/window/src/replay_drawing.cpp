#include "replay_drawing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <filesystem>

#include "bareglass/plain/harmless.hpp"

namespace bareglass::view {

void begin_area(const char* name, float x, float y, float w, float h, bool card, bool scrolls) {
  ImGui::SetCursorPos({x, y});
  ImGui::PushStyleColor(ImGuiCol_ChildBg, card ? colour::kCard : colour::kPaper);
  ImGui::BeginChild(name, {w, h}, card,
                    scrolls ? ImGuiWindowFlags_None
                            : ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
  ImGui::PopStyleColor();
}

ImU32 colour_of(InputState state) {
  switch (state) {
    case InputState::running:
      return colour::kOn;
    case InputState::off:
    case InputState::service:
    case InputState::paused:
      return colour::kOff;
    case InputState::unpowered:
      return colour::kFaint;
    default:
      return colour::kWait;
  }
}

ImU32 pale_of(InputState state) {
  switch (state) {
    case InputState::running:
      return IM_COL32(219, 234, 230, 255);
    case InputState::off:
    case InputState::service:
    case InputState::paused:
      return IM_COL32(244, 222, 230, 255);
    case InputState::unpowered:
      return IM_COL32(232, 232, 230, 255);
    default:
      return IM_COL32(245, 234, 208, 255);
  }
}

const char* short_word(InputState state) {
  switch (state) {
    case InputState::unpowered:
      return "no power";
    case InputState::settling:
      return "settles";
    case InputState::looking:
      return "looks";
    case InputState::running:
      return "input on";
    case InputState::waiting:
      return "input off, waits";
    case InputState::off:
      return "input off";
    case InputState::service:
      return "input off, asks for service";
    case InputState::paused:
      return "input paused";
  }
  return "";
}

std::string about_dump(const host::Account& a, const std::string& path) {
  const std::string name = path == "-"
                               ? "standard input"
                               : plain::harmless(std::filesystem::path(path).filename().string());
  std::string text = fmt::format("{}{}{}   {:.1f} s, {} frames, {} rows x {} columns", name,
                                 a.panel.unit_id.empty() ? "" : ", ", a.panel.unit_id,
                                 static_cast<double>(a.last_us - a.first_us) / 1e6, a.frames,
                                 a.settings.shape.rows, a.settings.shape.cols);
  const host::CaptureStats& s = a.stats;
  if (s.damaged_packets > 0) text += fmt::format("   damaged packets: {}", s.damaged_packets);
  if (s.frames_missing > 0) text += fmt::format("   frames missing: {}", s.frames_missing);
  return text;
}

void text_in_middle(ImDrawList& list, ImFont* font, ImVec2 middle, ImU32 colour, const char* text) {
  const ImVec2 size = font->CalcTextSizeA(font->FontSize, 1e6F, 0.0F, text);
  list.AddText(font, font->FontSize,
               {std::floor(middle.x - 0.5F * size.x), std::floor(middle.y - 0.5F * size.y)}, colour,
               text);
}

void boxed_text(ImDrawList& list, const Theme& theme, ImVec2 low, float least_x, float most_x,
                ImU32 ground, const char* text) {
  ImFont* font = theme.strong;
  const ImVec2 size = font->CalcTextSizeA(font->FontSize, 1e6F, 0.0F, text);
  const float pad = theme.px(4);
  low.x = std::floor(std::max(least_x, std::min(low.x, most_x - size.x - 2 * pad)));
  low.y = std::floor(low.y);
  list.AddRectFilled(low, {low.x + size.x + 2 * pad, low.y + size.y + 2}, ground);
  list.AddText(font, font->FontSize, {low.x + pad, low.y + 1}, IM_COL32_WHITE, text);
}

std::string wrapped(const ImFont* font, const std::string& text, float width) {
  std::string out;
  std::string line;
  const auto fits = [&](const std::string& s) {
    return font->CalcTextSizeA(font->FontSize, 1e6F, 0.0F, s.c_str()).x <= width;
  };
  for (std::size_t at = 0; at < text.size();) {
    std::size_t end = text.find(' ', at);
    const auto unit_follows = [&] {
      return end != std::string::npos && end > 0 && std::isdigit(text[end - 1]) != 0 &&
             (text.compare(end + 1, 1, "%") == 0 || text.compare(end + 1, 2, "ms") == 0 ||
              text.compare(end + 1, 2, "mm") == 0 || text.compare(end + 1, 2, "s ") == 0);
    };
    if (unit_follows()) end = text.find(' ', end + 1);
    const std::string word = text.substr(at, end == std::string::npos ? end : end - at);
    const std::string longer = line.empty() ? word : line + ' ' + word;
    if (!line.empty() && !fits(longer)) {
      out += line + '\n';
      line = word;
    } else {
      line = longer;
    }
    at = end == std::string::npos ? text.size() : end + 1;
  }
  return out + line;
}

void hatch(ImDrawList& list, ImVec2 low, ImVec2 high, float step, ImU32 colour) {
  const float h = high.y - low.y;
  for (float x = low.x - h; x < high.x; x += step) {
    const float from = std::max(x, low.x);
    const float to = std::min(x + h, high.x);
    if (from < to) list.AddLine({from, high.y - (from - x)}, {to, high.y - (to - x)}, colour);
  }
}

}  // namespace bareglass::view
