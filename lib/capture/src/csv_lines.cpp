#include "csv_lines.hpp"

#include <cstring>

namespace bareglass::host {

namespace {

const char* text_of(const std::uint8_t* bytes) { return reinterpret_cast<const char*>(bytes); }

}  // namespace

bool LineReader::peek(std::string_view& line) {
  std::size_t searched = 0;
  while (taken_ == 0) {
    const std::size_t left = input_->size() - searched;
    const void* end = left > 0 ? std::memchr(input_->data() + searched, '\n', left) : nullptr;
    if (end != nullptr) {
      length_ = static_cast<std::size_t>(static_cast<const std::uint8_t*>(end) - input_->data());
      taken_ = length_ + 1;
    } else if (input_->size() > kMostLineBytes) {
      overlong_ = true;
      length_ = taken_ = input_->size();
    } else {
      searched = input_->size();
      if (input_->fill()) continue;
      length_ = taken_ = input_->size();
      if (taken_ == 0) return false;
    }
  }
  line = {text_of(input_->data()), length_};
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  return true;
}

void LineReader::consume() {
  input_->consume(taken_);
  taken_ = 0;
  ++number_;
  if (!overlong_) return;
  overlong_ = false;
  do {
    const void* end =
        input_->size() > 0 ? std::memchr(input_->data(), '\n', input_->size()) : nullptr;
    if (end != nullptr) {
      input_->consume(
          static_cast<std::size_t>(static_cast<const std::uint8_t*>(end) - input_->data()) + 1);
      return;
    }
    input_->consume(input_->size());
  } while (input_->fill());
}

}  // namespace bareglass::host
