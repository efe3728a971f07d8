#include "imgui_sdl.hpp"

namespace bareglass::view {

namespace {

void take_key(const SDL_KeyboardEvent& key) {
  ImGuiIO& io = ImGui::GetIO();
  const SDL_Scancode code = key.keysym.scancode;
  if (code >= 0 && code < IM_ARRAYSIZE(io.KeysDown)) io.KeysDown[code] = key.type == SDL_KEYDOWN;
  io.KeyShift = (key.keysym.mod & KMOD_SHIFT) != 0;
  io.KeyCtrl = (key.keysym.mod & KMOD_CTRL) != 0;
  io.KeyAlt = (key.keysym.mod & KMOD_ALT) != 0;
}

}  // namespace

void take_event(const SDL_Event& event, float pixels_per_point) {
  ImGuiIO& io = ImGui::GetIO();
  switch (event.type) {
    case SDL_MOUSEMOTION:
      io.MousePos = {static_cast<float>(event.motion.x) * pixels_per_point,
                     static_cast<float>(event.motion.y) * pixels_per_point};
      break;
    case SDL_MOUSEBUTTONDOWN:
    case SDL_MOUSEBUTTONUP:
      io.MousePos = {static_cast<float>(event.button.x) * pixels_per_point,
                     static_cast<float>(event.button.y) * pixels_per_point};
      if (event.button.button == SDL_BUTTON_LEFT)
        io.MouseDown[0] = event.type == SDL_MOUSEBUTTONDOWN;
      if (event.button.button == SDL_BUTTON_RIGHT)
        io.MouseDown[1] = event.type == SDL_MOUSEBUTTONDOWN;
      break;
    case SDL_MOUSEWHEEL:
      io.MouseWheel += static_cast<float>(event.wheel.y);
      break;
    case SDL_TEXTINPUT:
      io.AddInputCharactersUTF8(event.text.text);
      break;
    case SDL_KEYDOWN:
    case SDL_KEYUP:
      take_key(event.key);
      break;
    default:
      break;
  }
}

void map_keys(ImGuiIO& io) {
  io.KeyMap[ImGuiKey_Tab] = SDL_SCANCODE_TAB;
  io.KeyMap[ImGuiKey_LeftArrow] = SDL_SCANCODE_LEFT;
  io.KeyMap[ImGuiKey_RightArrow] = SDL_SCANCODE_RIGHT;
  io.KeyMap[ImGuiKey_UpArrow] = SDL_SCANCODE_UP;
  io.KeyMap[ImGuiKey_DownArrow] = SDL_SCANCODE_DOWN;
  io.KeyMap[ImGuiKey_Home] = SDL_SCANCODE_HOME;
  io.KeyMap[ImGuiKey_End] = SDL_SCANCODE_END;
  io.KeyMap[ImGuiKey_Delete] = SDL_SCANCODE_DELETE;
  io.KeyMap[ImGuiKey_Backspace] = SDL_SCANCODE_BACKSPACE;
  io.KeyMap[ImGuiKey_Enter] = SDL_SCANCODE_RETURN;
  io.KeyMap[ImGuiKey_Escape] = SDL_SCANCODE_ESCAPE;
  io.KeyMap[ImGuiKey_A] = SDL_SCANCODE_A;
  io.KeyMap[ImGuiKey_C] = SDL_SCANCODE_C;
  io.KeyMap[ImGuiKey_V] = SDL_SCANCODE_V;
  io.KeyMap[ImGuiKey_X] = SDL_SCANCODE_X;
}

SDL_Texture* make_font_texture(SDL_Renderer* renderer) {
  ImGuiIO& io = ImGui::GetIO();
  unsigned char* pixels = nullptr;
  int width = 0;
  int height = 0;
  io.Fonts->GetTexDataAsRGBA32(&pixels, &width, &height);
  SDL_Texture* texture = SDL_CreateTexture(renderer, SDL_PIXELFORMAT_ABGR8888,
                                           SDL_TEXTUREACCESS_STATIC, width, height);
  if (texture == nullptr) return nullptr;
  SDL_UpdateTexture(texture, nullptr, pixels, 4 * width);
  SDL_SetTextureBlendMode(texture, SDL_BLENDMODE_BLEND);
  io.Fonts->SetTexID(texture);
  return texture;
}

void draw_lists(SDL_Renderer* renderer, const ImDrawData& data) {
  for (int n = 0; n < data.CmdListsCount; ++n) {
    const ImDrawList& list = *data.CmdLists[n];
    const ImDrawVert* vertices = list.VtxBuffer.Data;
    for (const ImDrawCmd& cmd : list.CmdBuffer) {
      if (cmd.UserCallback != nullptr || cmd.ElemCount == 0) continue;
      const SDL_Rect clip{static_cast<int>(cmd.ClipRect.x), static_cast<int>(cmd.ClipRect.y),
                          static_cast<int>(cmd.ClipRect.z - cmd.ClipRect.x),
                          static_cast<int>(cmd.ClipRect.w - cmd.ClipRect.y)};
      if (clip.w <= 0 || clip.h <= 0) continue;
      SDL_RenderSetClipRect(renderer, &clip);
      const ImDrawVert* first = vertices + cmd.VtxOffset;
      const void* colours = &first->col;
      SDL_RenderGeometryRaw(
          renderer, static_cast<SDL_Texture*>(cmd.GetTexID()), &first->pos.x, sizeof(ImDrawVert),
          static_cast<const SDL_Color*>(colours), sizeof(ImDrawVert), &first->uv.x,
          sizeof(ImDrawVert), list.VtxBuffer.Size - static_cast<int>(cmd.VtxOffset),
          list.IdxBuffer.Data + cmd.IdxOffset, static_cast<int>(cmd.ElemCount), sizeof(ImDrawIdx));
    }
  }
  SDL_RenderSetClipRect(renderer, nullptr);
}

}  // namespace bareglass::view
