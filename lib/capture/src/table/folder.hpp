#pragma once
// A folder that holds a file for each frame, read as one text: before each file a line that names
// it, and its number where the names count frames.

#include <cstdint>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "bareglass/capture/source.hpp"

namespace bareglass::host {

/// Where the lines of the joined text come from.
struct FolderPlaces {
  struct Start {
    std::uint64_t line = 0;  ///< of the joined text: the one before the file's first
    std::string path;
  };
  std::vector<Start> starts;

  /// The file that holds a line, and the number it has there. Precondition: starts is not empty.
  std::pair<std::string, std::uint64_t> of(std::uint64_t line) const;
};

struct FolderText {
  std::unique_ptr<ByteSource> source;
  std::shared_ptr<FolderPlaces> places;
  std::vector<std::string> said;  ///< how many files, which were left out
};

/// Files of text by their names' order, numbers in them counted as numbers. Throws CaptureError if
/// there are none.
FolderText open_folder(const std::string& path);

}  // namespace bareglass::host
