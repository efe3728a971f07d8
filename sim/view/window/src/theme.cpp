#include "bareglass/view/theme.hpp"

#include <cstdio>

namespace bareglass::view {

namespace {

ImFont* font(const char* file, float pixels) {
  ImGuiIO& io = ImGui::GetIO();
  if (std::FILE* there = std::fopen(file, "rb")) {
    std::fclose(there);
    if (ImFont* loaded = io.Fonts->AddFontFromFileTTF(file, pixels)) return loaded;
  }
  ImFontConfig config;
  config.SizePixels = pixels;
  return io.Fonts->AddFontDefault(&config);
}

void set_colours(ImGuiStyle& style) {
  const auto set = [&](ImGuiCol which, ImU32 value) {
    style.Colors[which] = ImGui::ColorConvertU32ToFloat4(value);
  };
  ImGui::StyleColorsLight(&style);
  set(ImGuiCol_Text, colour::kInk);
  set(ImGuiCol_TextDisabled, colour::kFaint);
  set(ImGuiCol_WindowBg, colour::kPaper);
  set(ImGuiCol_ChildBg, colour::kCard);
  set(ImGuiCol_PopupBg, colour::kCard);
  set(ImGuiCol_Border, colour::kLine);
  set(ImGuiCol_FrameBg, IM_COL32(236, 233, 224, 255));
  set(ImGuiCol_FrameBgHovered, colour::kAccentLight);
  set(ImGuiCol_FrameBgActive, colour::kAccentLight);
  set(ImGuiCol_Button, IM_COL32(232, 228, 216, 255));
  set(ImGuiCol_ButtonHovered, colour::kAccentLight);
  set(ImGuiCol_ButtonActive, IM_COL32(203, 192, 226, 255));
  set(ImGuiCol_Header, colour::kAccentLight);
  set(ImGuiCol_HeaderHovered, colour::kAccentLight);
  set(ImGuiCol_HeaderActive, IM_COL32(203, 192, 226, 255));
  set(ImGuiCol_CheckMark, colour::kAccent);
  set(ImGuiCol_SliderGrab, colour::kAccent);
  set(ImGuiCol_SliderGrabActive, colour::kAccent);
  set(ImGuiCol_Tab, IM_COL32(232, 228, 216, 255));
  set(ImGuiCol_TabHovered, colour::kAccentLight);
  set(ImGuiCol_TabActive, colour::kCard);
  set(ImGuiCol_ScrollbarBg, colour::kPaper);
  set(ImGuiCol_NavHighlight, colour::kAccent);
}

}  // namespace

Theme make_theme(float scale) {
  constexpr const char* kSans = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
  constexpr const char* kBold = "/usr/share/fonts/truetype/dejavu/DejaVuSans-Bold.ttf";
  Theme theme;
  theme.scale = scale;
  theme.text = font(kSans, 14.0F * scale);
  theme.strong = font(kBold, 14.0F * scale);
  theme.small = font(kSans, 12.0F * scale);
  theme.lesson = font(kSans, 16.0F * scale);
  theme.lesson_strong = font(kBold, 17.0F * scale);
  theme.title = font(kBold, 18.0F * scale);
  theme.large = font(kBold, 23.0F * scale);
  ImGuiStyle& style = ImGui::GetStyle();
  set_colours(style);
  style.WindowPadding = {10, 8};
  style.FramePadding = {8, 4};
  style.ItemSpacing = {8, 5};
  style.WindowBorderSize = 0;
  style.ChildBorderSize = 1;
  style.FrameRounding = 0;
  style.ChildRounding = 0;
  style.ScrollbarSize = 12;
  // Smooth edges cost a software renderer most of its time.
  style.AntiAliasedFill = false;
  style.AntiAliasedLines = false;
  style.CircleTessellationMaxError = 0.8F;
  style.ScaleAllSizes(scale);
  return theme;
}

}  // namespace bareglass::view
