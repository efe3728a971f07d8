#pragma once
// A window over a byte source that grows to hold what must be seen whole, and no further.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <vector>

#include "bareglass/capture/source.hpp"

namespace bareglass::host {

class InputBuffer {
 public:
  /// Bytes past the end of the window that may be read (never to be used as data).
  static constexpr std::size_t kSlack = 64;

  explicit InputBuffer(std::unique_ptr<ByteSource> source);

  const std::uint8_t* data() const { return bytes_.data() + begin_; }
  std::size_t size() const { return end_ - begin_; }
  /// Offset of data()[0] from the source's first byte.
  std::uint64_t offset() const { return offset_; }
  /// The first `count` bytes, count <= size(), are no longer needed.
  void consume(std::size_t count);
  /// Waits for more bytes behind the window; false at the source's end. Invalidates data().
  bool fill();
  /// Fills until the window holds `count` bytes or the source ends; true if it holds them.
  bool fill_to(std::size_t count);
  bool ended() const { return ended_; }
  std::optional<std::uint64_t> total() const { return source_->size(); }

 private:
  std::unique_ptr<ByteSource> source_;
  std::vector<std::uint8_t> bytes_;
  std::size_t begin_ = 0;
  std::size_t end_ = 0;
  std::uint64_t offset_ = 0;
  bool ended_ = false;
};

}  // namespace bareglass::host
