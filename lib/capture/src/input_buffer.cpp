#include "input_buffer.hpp"

#include <cstring>
#include <utility>

namespace bareglass::host {

namespace {

/// One read. Small enough to stay in a second-level cache together with what is decoded from it.
constexpr std::size_t kReadBytes = 128 * 1024;

}  // namespace

InputBuffer::InputBuffer(std::unique_ptr<ByteSource> source)
    : source_(std::move(source)), bytes_(2 * kReadBytes + kSlack) {}

void InputBuffer::consume(std::size_t count) {
  begin_ += count;
  offset_ += count;
}

bool InputBuffer::fill() {
  if (ended_) return false;
  if (bytes_.size() - kSlack - end_ < kReadBytes && begin_ > 0) {
    std::memmove(bytes_.data(), bytes_.data() + begin_, size());
    end_ -= begin_;
    begin_ = 0;
  }
  if (bytes_.size() - kSlack - end_ < kReadBytes) bytes_.resize(2 * bytes_.size());
  const std::size_t got = source_->read(bytes_.data() + end_, kReadBytes);
  end_ += got;
  ended_ = got == 0;
  return !ended_;
}

bool InputBuffer::fill_to(std::size_t count) {
  while (size() < count)
    if (!fill()) return false;
  return true;
}

}  // namespace bareglass::host
