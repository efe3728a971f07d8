#pragma once
// Lines of a text capture, in bounded memory.

#include <string_view>

#include "readers.hpp"

namespace bareglass::host {

class LineReader {
 public:
  explicit LineReader(Buffer input) : input_(std::move(input)) {}

  /// The current line without its end; false at the end of the source. Stays until consume().
  bool peek(std::string_view& line);
  void consume();

  /// Number of the current line, from 1.
  std::uint64_t number() const { return number_; }
  std::size_t size_with_end() const { return taken_; }
  /// True if the current line was longer than a line may be; peek() then gives its start.
  bool overlong() const { return overlong_; }
  const InputBuffer& input() const { return *input_; }

  /// More than any frame of kMaxCaptureLines each way takes.
  static constexpr std::size_t kMostLineBytes = 8 * 1024 * 1024;

 private:
  Buffer input_;
  std::uint64_t number_ = 1;
  std::size_t taken_ = 0;   ///< bytes of the current line and its end; 0: not looked for yet
  std::size_t length_ = 0;  ///< without the end
  bool overlong_ = false;
};

}  // namespace bareglass::host
