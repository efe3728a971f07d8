#pragma once
// Kernels on disk: files that ship with a panel, and the cache of solved panels.

#include <string>

#include "bareglass/field/surface_kernels.hpp"

namespace bareglass::field {

/// A kernel file as text. Lines starting with '#' are comments, `comment` (may hold several lines)
/// comes first; then one line per quantity, numbers exact to the last bit; the last line is an
/// FNV-1a checksum of everything before it.
std::string format_kernels(const SurfaceKernels& kernels, const std::string& input,
                           const std::string& comment);
/// The reverse. Throws PanelError naming `file` and the line for a text that is damaged (checksum),
/// of another version, incomplete, or made from another input than `input` (if not empty).
SurfaceKernels parse_kernels(const std::string& text, const std::string& file,
                             const std::string& input = {});
/// Reads a kernel file. Throws PanelError.
SurfaceKernels load_kernels(const std::string& path);

/// Everything that the kernels of a panel depend on, in one line of text.
std::string kernel_input(const PanelSpec& panel, const Mesh& mesh);

/// Where kernels came from.
struct KernelSource {
  enum class Origin { kCached, kSolved } origin = Origin::kSolved;
  std::string path;     ///< the cache file
  std::string warning;  ///< a damaged file that was replaced, or why the result was not kept
};

/// $XDG_CACHE_HOME/bareglass, else $HOME/.cache/bareglass; empty if neither is set.
std::string cache_directory();

/// Kernels from the cache, or solved and kept there: written under a temporary name and renamed, so
/// that no reader ever sees half a file. A damaged file is solved anew. Trouble with the cache is a
/// warning, never an error.
SurfaceKernels cached_kernels(const PanelSpec& panel, const Mesh& mesh, KernelSource& source,
                              const std::string& directory = cache_directory());

/// Writes `text` to `path` through a temporary file and a rename. Throws PanelError naming the
/// path.
void write_whole(const std::string& path, const std::string& text);

}  // namespace bareglass::field
