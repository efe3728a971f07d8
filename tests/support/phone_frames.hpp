#pragma once
// Real difference frames of a phone panel, where they are at hand: the open dataset of H. V. Le,
// S. Mayer and N. Henze, "Investigating the Feasibility of Finger Identification on Capacitive
// Touchscreens using Deep Learning", IUI 2019, converted to text and compressed with gzip. They are
// no part of this repository.

#include <cstdint>
#include <cstdio>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/capture/reader.hpp"

namespace bareglass::support {

struct PhoneFrames {
  struct Frame {
    std::uint64_t t_us = 0;
    std::uint32_t sequence = 0;
    std::vector<std::int16_t> values;  ///< rows * cols, row-major, a touch positive
  };
  int rows = 0, cols = 0;
  std::vector<Frame> frames;  ///< every line that could be read, in order, repeated ones too
  host::CaptureStats stats;   ///< malformed_lines, repeated_frames, ...
};

/// Unpacks `path` with gzip.
class GzipSource : public host::ByteSource {
 public:
  explicit GzipSource(const std::string& path)
      : pipe_(::popen(("gzip -dc '" + path + "'").c_str(), "r"), ::pclose) {}
  std::size_t read(std::uint8_t* to, std::size_t most) override {
    return pipe_ ? std::fread(to, 1, most, pipe_.get()) : 0;
  }

 private:
  std::unique_ptr<std::FILE, int (*)(std::FILE*)> pipe_;
};

/// Where the file would be, or nothing if it isn't there.
inline std::optional<std::string> phone_frames_path(const std::string& name) {
  const std::string path = BAREGLASS_SOURCE_DIR "/../shared/data/" + name;
  std::FILE* file = std::fopen(path.c_str(), "rb");
  if (file == nullptr) return std::nullopt;
  std::fclose(file);
  return path;
}

/// Opens such a file as the CSV capture it nearly is: its head says "kind" where ours says
/// "values".
inline std::unique_ptr<host::CaptureReader> open_phone_frames(const std::string& path,
                                                              bool lenient) {
  host::OpenOptions options;
  options.format = host::CaptureFormat::csv;
  options.values = host::FrameKind::difference;
  options.lenient = lenient;
  return host::open_capture(std::make_unique<GzipSource>(path), path, options);
}

/// Everything in `path` that can be read; values untouched.
inline PhoneFrames load_phone_frames(const std::string& path) {
  const auto reader = open_phone_frames(path, true);
  PhoneFrames all;
  for (host::Record record; reader->next(record);) {
    const auto* frame = std::get_if<host::FrameRecord>(&record);
    if (frame == nullptr) continue;
    all.rows = frame->rows;
    all.cols = frame->cols;
    all.frames.push_back({frame->t_us, frame->sequence, frame->difference});
  }
  all.stats = reader->stats();
  return all;
}

}  // namespace bareglass::support
