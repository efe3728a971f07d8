#pragma once
// What the shell shows: one page, drawn anew every frame.

#include <SDL_keycode.h>

#include <functional>
#include <string>
#include <vector>

#include "bareglass/view/theme.hpp"

namespace bareglass::view {

/// One line of the key table: what it does, and the words for the help overlay.
struct KeyBinding {
  SDL_Keycode key = 0;
  bool shift = false;
  bool control = false;
  std::string shown;  ///< "Shift+arrow"; empty: left out of the help
  std::string what;   ///< "moves the selected thing"
  std::function<void()> act;
};

class Page {
 public:
  virtual ~Page() = default;
  /// Title of the window.
  virtual std::string title() const = 0;
  /// `seconds` have passed.
  virtual void update(double seconds) = 0;
  /// Draws over the whole window with ImGui, `width` x `height` pixels.
  virtual void draw(const Theme& theme, float width, float height) = 0;
  /// All keys of the page; asked for once.
  virtual std::vector<KeyBinding> keys() = 0;
  /// A file was dropped on the window.
  virtual void drop(const std::string& /*path*/) {}
  /// False while nothing moves by itself: the window then sleeps until something happens.
  virtual bool moving() const { return true; }
  /// The window is about to close: keep what must not be lost.
  virtual void close() {}
};

}  // namespace bareglass::view
