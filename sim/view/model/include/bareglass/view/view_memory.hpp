#pragma once
// What the window remembers from one day to the next: its size, the layer, dumps opened lately. In
// the folder of the XDG Base Directory Specification: $XDG_CONFIG_HOME/bareglass, else
// ~/.config/bareglass.

#include <string>
#include <vector>

namespace bareglass::view {

struct ViewMemory {
  int width = 1280;         ///< points, 640..8192
  int height = 800;         ///< points, 480..8192
  std::string layer;        ///< of the replay, as replay_layer_of reads it; empty: none chosen
  std::string bench_layer;  ///< of the bench: "glass", "raw", ...; empty: none chosen
  /// Paths, newest first, at most kMostRecent.
  std::vector<std::string> recent;
  static constexpr std::size_t kMostRecent = 8;

  /// Puts a path first. Standard input is not remembered.
  void opened(const std::string& path);
};

/// The file that holds it; empty if there is no home to keep it in.
std::string view_memory_path();
/// What `path` holds. A missing or damaged file is as good as none: what it says out of range is
/// left at its default.
ViewMemory load_view_memory(const std::string& path);
/// Writes it whole or not at all; false if that is impossible (a window does not fail for that).
bool save_view_memory(const std::string& path, const ViewMemory& memory);

}  // namespace bareglass::view
