#pragma once
// Keeps what a live source gives in a file, byte by byte, in a thread of its own.
//
// What has been read is written at once: killed at any moment, the program leaves all of it but the
// one read, of at most 4 KiB, that it was about to write. The file is new and held under a lock
// (flock), so that no two programs record into it.

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "bareglass/capture/live_source.hpp"
#include "bareglass/capture/source.hpp"

namespace bareglass::host {

struct RecordLimits {
  std::optional<std::uint64_t> time_us;  ///< from the first byte on
  std::optional<std::uint64_t> bytes;
};

class Recorder {
 public:
  enum class End {
    none,     ///< still recording
    stopped,  ///< by stop() or a limit
    ended,    ///< the source has no more
    failed,   ///< problem says what; what was recorded is whole packets
  };
  struct Status {
    std::uint64_t bytes = 0;
    std::uint64_t last_byte_ms = 0;  ///< since the start, when the last ones came
    bool connected = true;
    unsigned losses = 0;  ///< how often the source went away
    End end = End::none;
    std::string problem;  ///< only if failed
  };

  /// Creates `path` and begins. Throws CaptureWriteError if it exists, whether or not another
  /// program records into it, or can't be created.
  Recorder(std::unique_ptr<LiveSource> source, const std::string& path, RecordLimits limits);
  /// Stops.
  ~Recorder();
  Recorder(const Recorder&) = delete;
  Recorder& operator=(const Recorder&) = delete;

  /// Ends within a moment; what has been read is in the file.
  void stop();
  Status status() const;
  /// Milliseconds since the start.
  std::uint64_t age_ms() const;
  /// Waits until there are more than `bytes`, or it is over, or the time has passed.
  Status wait_beyond(std::uint64_t bytes, int timeout_ms) const;

 private:
  void run();
  /// False once it is over.
  bool keep(const std::uint8_t* bytes, std::size_t size);
  void part_packets();
  void end(End how, std::string problem = {});
  void fail_to_write(int error);

  std::unique_ptr<LiveSource> source_;
  std::string path_;
  RecordLimits limits_;
  int fd_ = -1;
  std::uint64_t whole_ = 0;  ///< up to behind the last zero
  std::optional<std::uint64_t> first_byte_ms_;
  std::int64_t started_ms_ = 0;
  std::atomic<bool> stop_{false};
  mutable std::mutex mutex_;
  mutable std::condition_variable changed_;
  Status status_;
  std::thread thread_;
};

}  // namespace bareglass::host
