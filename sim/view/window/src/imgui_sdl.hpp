#pragma once
// ImGui on SDL: events in, draw lists out through SDL_RenderGeometry.

#include <SDL.h>
#include <imgui.h>

namespace bareglass::view {

/// Hands one event to the current ImGui context.
void take_event(const SDL_Event& event, float pixels_per_point);
/// Names the keys that ImGui steers by.
void map_keys(ImGuiIO& io);
/// Builds the font atlas as a texture of `renderer`; the caller destroys it.
SDL_Texture* make_font_texture(SDL_Renderer* renderer);
/// Draws what ImGui::Render() left.
void draw_lists(SDL_Renderer* renderer, const ImDrawData& data);

}  // namespace bareglass::view
