#pragma once
// Views, shapes and frames: the vocabulary every stage of the core shares.
//
// The core is freestanding: no heap, exceptions, RTTI, floating point, I/O, clock or global state.
// Time comes in with each frame; memory belongs to the caller (storage.hpp).

#include <cstddef>
#include <cstdint>

namespace bareglass {

/// Largest panel the core accepts, lines each way. Node indices then fit 16 bits and line
/// indices 8.
constexpr int kMaxLines = 128;

/// Signed shifts are used as floor division by a power of two throughout the core.
static_assert((-3 >> 1) == -2, "the core needs arithmetic right shift of negative integers");

/// A non-owning run of `size` elements. Copying a View copies the reference, never the elements.
template <typename T>
struct View {
  T* data = nullptr;
  std::size_t size = 0;

  constexpr T& operator[](std::size_t i) const { return data[i]; }
  constexpr T* begin() const { return data; }
  constexpr T* end() const { return data + size; }
  constexpr bool empty() const { return size == 0; }
};

/// The same elements, read-only.
template <typename T>
constexpr View<const T> read_only(View<T> v) {
  return {v.data, v.size};
}

/// Rows are the driven lines, scanned one after another; columns are the sensed lines, read
/// together. Valid: 1..kMaxLines each. Node (row, col) has index row * cols + col everywhere.
struct Shape {
  int rows = 0;
  int cols = 0;

  constexpr int nodes() const { return rows * cols; }
  constexpr bool operator==(Shape o) const { return rows == o.rows && cols == o.cols; }
  constexpr bool operator!=(Shape o) const { return !(*this == o); }
};

/// One scan of the panel as the analog front end delivers it.
struct Frame {
  const std::uint16_t* raw = nullptr;  ///< rows * cols counts, row-major; never null when passed on
  Shape shape;
  std::uint32_t sequence = 0;  ///< counts scans since power-up, wraps at 2^32
  std::uint64_t t_us = 0;      ///< end of the scan, microseconds on the controller's clock
};

/// A rectangle of nodes, both ends included.
struct Box {
  std::uint8_t row0 = 0, row1 = 0, col0 = 0, col1 = 0;

  constexpr int height() const { return row1 - row0 + 1; }
  constexpr int width() const { return col1 - col0 + 1; }
  constexpr bool contains(int row, int col) const {
    return row >= row0 && row <= row1 && col >= col0 && col <= col1;
  }
};

/// True when the boxes share a node after each side of `a` is moved out by `margin` nodes.
constexpr bool overlaps(const Box& a, const Box& b, int margin) {
  return a.row0 <= b.row1 + margin && b.row0 <= a.row1 + margin && a.col0 <= b.col1 + margin &&
         b.col0 <= a.col1 + margin;
}

/// The least box that holds both.
constexpr Box enclosing(const Box& a, const Box& b) {
  return {a.row0 < b.row0 ? a.row0 : b.row0, a.row1 > b.row1 ? a.row1 : b.row1,
          a.col0 < b.col0 ? a.col0 : b.col0, a.col1 > b.col1 ? a.col1 : b.col1};
}

}  // namespace bareglass
