#pragma once
// Files as they were when the program was built; the sources are written by the build.

#include <vector>

namespace bareglass::view {

struct EmbeddedText {
  const char* name;  ///< "damp-note.toml"
  const char* text;
};
const std::vector<EmbeddedText>& embedded_lessons();
/// Of the panels that ship, in the format of field::parse_kernels.
const std::vector<EmbeddedText>& embedded_kernels();

}  // namespace bareglass::view
