#pragma once
// A look at a dump before it is used: what was understood of it, and its first frames as maps.

#include <string>
#include <vector>

#include "bareglass/capture/reader.hpp"

namespace bareglass::tools {

/// One map to show.
struct PreviewMap {
  std::string title;  ///< "frame 0 at 0.000 s"
  int rows = 0, cols = 0;
  std::vector<int> counts;  ///< row-major
};

struct Preview {
  std::string file;
  host::TableReading reading;
  std::vector<PreviewMap> maps;
};

/// Reads the first frames of `path`; what is still open is shown in every way that it can be.
/// Throws CaptureError if no frame can be read in any way.
Preview preview_of(const std::string& path, const host::OpenOptions& options);

/// For a terminal, with shades of 24 bits if `colour`.
std::string preview_text(const Preview& preview, bool colour);

/// A self-contained SVG document.
std::string preview_svg(const Preview& preview);

/// Mean step between neighbouring nodes, counts: smooth if nodes lie where they belong.
double roughness(const PreviewMap& map);

}  // namespace bareglass::tools
