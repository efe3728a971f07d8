#pragma once
// The bytes of a dump as a window needs them: any place at any time, growing or vanishing. Whatever
// comes in is a frame stream here: other formats are converted, standard input is kept, each in a
// temporary file without a name.

#include <atomic>
#include <cstdint>
#include <memory>
#include <string>
#include <thread>

#include "bareglass/capture/reader.hpp"

namespace bareglass::view {

/// A file descriptor that closes itself.
class FileHandle {
 public:
  explicit FileHandle(int fd) : fd_(fd) {}
  ~FileHandle();
  FileHandle(const FileHandle&) = delete;
  FileHandle& operator=(const FileHandle&) = delete;
  int get() const { return fd_; }

 private:
  int fd_;
};

/// Keeps what comes on standard input in a file, in a thread of its own, until it is closed, too
/// long, or nobody wants it any more.
class InputKeeper {
 public:
  InputKeeper(std::shared_ptr<FileHandle> file, std::uint64_t most_bytes);
  /// Ends within a moment even if the sender is silent.
  ~InputKeeper();
  InputKeeper(const InputKeeper&) = delete;
  InputKeeper& operator=(const InputKeeper&) = delete;
  bool receiving() const { return receiving_; }
  /// True if more came than is kept, or the disk is full.
  bool overfull() const { return overfull_; }

 private:
  void keep();

  std::shared_ptr<FileHandle> file_;
  std::uint64_t most_bytes_;
  std::atomic<bool> stop_{false};
  std::atomic<bool> receiving_{true};
  std::atomic<bool> overfull_{false};
  std::thread thread_;
};

class DumpFile {
 public:
  /// More than this of standard input is not kept.
  static constexpr std::uint64_t kMostSpoolBytes = std::uint64_t{2} << 30;

  /// Opens `path` ("-": standard input) and waits until its format is known; a format other than
  /// the frame stream is converted as a whole. `stop`: set to give up. Throws CaptureError.
  DumpFile(std::string path, const host::OpenOptions& options, const std::atomic<bool>& stop);
  DumpFile(const DumpFile&) = delete;
  DumpFile& operator=(const DumpFile&) = delete;

  const std::string& path() const { return path_; }
  /// For messages: the path, or "standard input".
  std::string name() const;
  /// Bytes there now.
  std::uint64_t size() const;
  /// End of the last packet that is there as a whole: what lies behind may still be growing.
  std::uint64_t whole_end() const { return whole_end(size()); }
  /// The same within the first `most` bytes.
  std::uint64_t whole_end(std::uint64_t most) const;
  /// Reads frames from `offset`, where a packet begins, to `end`.
  std::unique_ptr<host::CaptureReader> reader(std::uint64_t offset, std::uint64_t end) const;
  /// What has happened to the file since it was opened, as a sentence; empty if nothing.
  std::string trouble() const;
  /// True if the file has been cut or replaced, so that what was read of it no longer holds.
  bool replaced() const;
  /// True while standard input is still open.
  bool receiving() const { return keeper_ && keeper_->receiving(); }

 private:
  void wait_for_first_bytes(const std::atomic<bool>& stop) const;
  void convert(host::CaptureReader& from, const std::atomic<bool>& stop);

  std::string path_;
  std::shared_ptr<FileHandle> file_;
  std::unique_ptr<InputKeeper> keeper_;  ///< of standard input
  bool followed_ = false;  ///< read in place, so that growing and vanishing are of interest
  std::uint64_t opened_size_ = 0;
};

}  // namespace bareglass::view
