#pragma once
// An output array with canaries on both sides: a worker that writes past its run is caught even
// where a sanitizer sees one large allocation.

#include <algorithm>
#include <cstddef>
#include <vector>

#include "bareglass/core/types.hpp"

namespace bareglass::support {

template <typename T>
class Guarded {
 public:
  explicit Guarded(std::size_t size, T value = T{}) : size_(size), all_(size + 2 * kGuard, value) {
    std::fill_n(all_.begin(), kGuard, kCanary);
    std::fill_n(all_.end() - kGuard, kGuard, kCanary);
  }
  explicit Guarded(const std::vector<T>& values) : Guarded(values.size()) {
    std::copy(values.begin(), values.end(), all_.begin() + kGuard);
  }

  View<T> view() { return {all_.data() + kGuard, size_}; }
  View<const T> read() const { return {all_.data() + kGuard, size_}; }
  T& operator[](std::size_t i) { return all_[i + kGuard]; }
  const T& operator[](std::size_t i) const { return all_[i + kGuard]; }
  std::vector<T> values() const { return {all_.begin() + kGuard, all_.end() - kGuard}; }

  /// True while nothing was written before or behind the array.
  bool intact() const {
    const auto is_canary = [](T v) { return v == kCanary; };
    return std::all_of(all_.begin(), all_.begin() + kGuard, is_canary) &&
           std::all_of(all_.end() - kGuard, all_.end(), is_canary);
  }

 private:
  static constexpr std::ptrdiff_t kGuard = 16;
  static constexpr T kCanary = static_cast<T>(0x5A);

  std::size_t size_;
  std::vector<T> all_;
};

}  // namespace bareglass::support
