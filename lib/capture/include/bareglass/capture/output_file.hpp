#pragma once
// A file that appears whole or not at all.
//
// It is written under a name of its own beside the target, TARGET.partial-PROCESS-NUMBER, and
// renamed. Killed in the middle, a program leaves that file behind: what it holds is whole up to
// about the last second, so that of a dump every packet but the last can be read. It is held under
// a lock (flock) while it is being written; the next output to the same target removes what lies
// there without one.

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace bareglass::host {

/// Removes the temporary files of all outputs of this process that are not finished. Safe in a
/// signal handler that then ends the process, and for nothing else.
void remove_unfinished_outputs() noexcept;

class OutputFile {
 public:
  /// `path`, "-" for standard output. Throws CaptureWriteError if nothing can be written there.
  explicit OutputFile(const std::string& path);
  /// Removes what was written unless finish() succeeded.
  ~OutputFile();
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;

  void write(const void* bytes, std::size_t size);
  void write(std::string_view text) { write(text.data(), text.size()); }
  /// Replaces bytes at the front; only if is_regular(), at most as many as were written.
  void rewrite_front(std::string_view text);
  /// Flushes; a regular file is also synchronised to the disk and given its name.
  void finish();

  /// A file with a name of its own, as opposed to a device, a pipe or standard output.
  bool is_regular() const { return !temporary_.empty(); }
  const std::string& name() const { return name_; }

 private:
  void open_beside(const std::string& target);
  bool create_temporary(int number);
  void give_up_temporary();
  void flush();
  [[noreturn]] void fail(const char* what, int error) const;

  std::string name_;
  std::string target_;
  std::string temporary_;
  int fd_ = -1;
  bool owned_ = false;
  std::uint64_t written_ = 0;
  std::vector<std::uint8_t> pending_;
  std::chrono::steady_clock::time_point flushed_ = std::chrono::steady_clock::now();
};

}  // namespace bareglass::host
