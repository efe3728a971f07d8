#pragma once
// Events as a keyboard and a mouse would send them, and pictures held against each other.

#include <SDL.h>

#include <cstdlib>
#include <string>

#include "bareglass/view/shell.hpp"

namespace bareglass::test_support {

inline void press_key(SDL_Keycode code, Uint16 modifiers = KMOD_NONE) {
  for (const Uint32 type : {SDL_KEYDOWN, SDL_KEYUP}) {
    SDL_Event event{};
    event.type = type;
    event.key.keysym.sym = code;
    event.key.keysym.scancode = SDL_GetScancodeFromKey(code);
    event.key.keysym.mod = modifiers;
    SDL_PushEvent(&event);
  }
}

/// At most 31 bytes go into one event, as SDL sends them.
inline void type_text(const std::string& text) {
  for (std::size_t at = 0; at < text.size(); at += SDL_TEXTINPUTEVENT_TEXT_SIZE - 1) {
    SDL_Event event{};
    event.type = SDL_TEXTINPUT;
    text.copy(event.text.text, SDL_TEXTINPUTEVENT_TEXT_SIZE - 1, at);
    SDL_PushEvent(&event);
  }
}

inline void move_mouse(ImVec2 at) {
  SDL_Event event{};
  event.type = SDL_MOUSEMOTION;
  event.motion.x = static_cast<Sint32>(at.x);
  event.motion.y = static_cast<Sint32>(at.y);
  SDL_PushEvent(&event);
}

inline void mouse_button(ImVec2 at, bool down, Uint8 button = SDL_BUTTON_LEFT) {
  SDL_Event event{};
  event.type = down ? SDL_MOUSEBUTTONDOWN : SDL_MOUSEBUTTONUP;
  event.button.button = button;
  event.button.x = static_cast<Sint32>(at.x);
  event.button.y = static_cast<Sint32>(at.y);
  SDL_PushEvent(&event);
}

/// SDL frees the text of a drop with SDL_free.
inline void drop_file(const std::string& path) {
  SDL_Event event{};
  event.type = SDL_DROPFILE;
  event.drop.file = SDL_strdup(path.c_str());
  SDL_PushEvent(&event);
}

/// Share of pixels that differ by more than 24 of 255 in some channel; 1 for other sizes.
inline double share_differing(const view::Picture& a, const view::Picture& b) {
  if (a.rgb.size() != b.rgb.size() || a.width != b.width || a.rgb.empty()) return 1.0;
  std::size_t count = 0;
  for (std::size_t k = 0; k < a.rgb.size(); k += 3) {
    bool differs = false;
    for (std::size_t c = k; c < k + 3; ++c) differs = differs || std::abs(a.rgb[c] - b.rgb[c]) > 24;
    count += differs ? 1 : 0;
  }
  return static_cast<double>(count) / (static_cast<double>(a.rgb.size()) / 3.0);
}

}  // namespace bareglass::test_support
