#pragma once
// The lesson files as they were when the program was built; the source is written by the build.

#include <vector>

namespace bareglass::view {

struct EmbeddedText {
  const char* name;  ///< "damp-note.toml"
  const char* text;
};
const std::vector<EmbeddedText>& embedded_lessons();

}  // namespace bareglass::view
