#pragma once
// What every fuzz target shares: numbers and texts drawn from the input's bytes, promises that end
// the run when they are broken, a source of bytes in pieces.

#include <algorithm>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>
#include <vector>

#include "bareglass/capture/source.hpp"
#include "bareglass/plain/harmless.hpp"

namespace bareglass::fuzz {

/// Hands out an input from its front; zeros once it is used up, so that every input means something
/// and a small change stays a small change.
class Bytes {
 public:
  Bytes(const std::uint8_t* data, std::size_t size) : at_(data), end_(data + size) {}

  bool empty() const { return at_ == end_; }
  std::size_t left() const { return static_cast<std::size_t>(end_ - at_); }
  const std::uint8_t* rest() const { return at_; }

  std::uint8_t byte() { return empty() ? std::uint8_t{0} : *at_++; }
  std::uint64_t number(int bytes) {
    std::uint64_t value = 0;
    for (int k = 0; k < bytes; ++k) value = value << 8 | byte();
    return value;
  }
  /// low..high; the smallest number of bytes that can tell them apart is used.
  std::int64_t within(std::int64_t low, std::int64_t high) {
    const auto span = static_cast<std::uint64_t>(high - low) + 1;
    int bytes = 1;
    while (bytes < 8 && span >> (8 * bytes) != 0) ++bytes;
    return low + static_cast<std::int64_t>(number(bytes) % span);
  }
  /// True in `times` of 256 bytes.
  bool chance(int times) { return byte() < times; }
  std::string text(std::size_t most) {
    const std::size_t size = std::min(static_cast<std::size_t>(byte()), std::min(most, left()));
    const std::string out(reinterpret_cast<const char*>(at_), size);
    at_ += size;
    return out;
  }

 private:
  const std::uint8_t* at_;
  const std::uint8_t* end_;
};

/// A broken promise ends the run as a crash does.
inline void require(bool kept, const char* promise) {
  if (kept) return;
  std::fprintf(stderr, "\nBroken promise: %s\n", promise);
  std::abort();
}

/// Whether BAREGLASS_FUZZ_TOLERATE names this one of a defect's signs: to look for what else there
/// is until it is mended. Names: engine_promises.hpp, engine_fuzz.cpp.
inline bool tolerated(const char* name) {
  static const char* names = std::getenv("BAREGLASS_FUZZ_TOLERATE");
  return names != nullptr && std::strstr(names, name) != nullptr;
}

/// Output for people: UTF-8, nothing unwelcome but the ends of lines.
inline void require_harmless(const std::string& text) {
  if (plain::harmless_lines(text) == text) return;
  std::fprintf(stderr, "%s\n", plain::harmless_lines(text).c_str());
  require(false, "no control character and nothing but UTF-8 in an output");
}

inline void require_harmless_line(const std::string& text) {
  require_harmless(text);
  require(text.find('\n') == std::string::npos, "a message is one line");
}

/// The bytes in pieces of `chunk`.
class PiecesSource final : public host::ByteSource {
 public:
  PiecesSource(const std::uint8_t* data, std::size_t size, std::size_t chunk)
      : bytes_(data, data + size), chunk_(std::max<std::size_t>(chunk, 1)) {}

  std::size_t read(std::uint8_t* to, std::size_t most) override {
    const std::size_t size = std::min({chunk_, most, bytes_.size() - at_});
    if (size > 0) std::memcpy(to, bytes_.data() + at_, size);
    at_ += size;
    return size;
  }
  std::optional<std::uint64_t> size() const override {
    // A file knows its length, a pipe does not.
    return chunk_ > 4096 ? std::optional<std::uint64_t>(bytes_.size()) : std::nullopt;
  }

 private:
  std::vector<std::uint8_t> bytes_;
  std::size_t chunk_;
  std::size_t at_ = 0;
};

}  // namespace bareglass::fuzz
