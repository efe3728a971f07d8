#pragma once
// The window: events in, one page out. Drawn by SDL's software renderer where there is no other, so
// it runs without a screen too (SDL_VIDEODRIVER=dummy) and can be photographed.

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "bareglass/view/page.hpp"

namespace bareglass::view {

struct ShellOptions {
  int width = 1280;     ///< points, 320..8192
  int height = 800;     ///< points, 240..8192
  float scale = 0.0F;   ///< pixels per point, 0.5..4; 0: what the display asks for
  bool hidden = false;  ///< no window is shown and nothing waits for the display
};

/// Pixels of a frame, row-major, 3 bytes each: red, green, blue.
struct Picture {
  int width = 0;
  int height = 0;
  std::vector<std::uint8_t> rgb;
};
/// Writes a PNG file, whole or not at all. Throws host::CaptureWriteError.
void write_png(const std::string& path, const Picture& picture);

class Shell {
 public:
  /// Throws std::runtime_error if no window can be opened.
  explicit Shell(const ShellOptions& options);
  ~Shell();
  Shell(const Shell&) = delete;
  Shell& operator=(const Shell&) = delete;

  /// Shows `page` until the window is closed.
  void run(Page& page);
  /// One frame: takes the events that wait, tells the page that `seconds` have passed, draws it.
  /// False once the window is to be closed.
  bool frame(Page& page, double seconds);
  /// The frame drawn last.
  Picture picture() const;
  /// Draws `frames` frames as fast as they go, `seconds` of the page's time each; milliseconds it
  /// took for each, in their order.
  std::vector<double> frame_times_ms(Page& page, int frames, double seconds);

  const Theme& theme() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace bareglass::view
