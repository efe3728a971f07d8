#pragma once
// The lines of one direction and their crossings, so that rows and columns are walked alike.

#include "reading.hpp"

namespace bareglass::host {

struct LineAxis {
  const Reading& reading;
  bool of_rows;

  int count() const { return of_rows ? reading.shape().rows : reading.shape().cols; }
  int crossings() const { return of_rows ? reading.shape().cols : reading.shape().rows; }
  /// Node of line 0..count() - 1 at crossing 0..crossings() - 1.
  std::size_t node(int line, int at) const {
    return of_rows ? reading.node_at(line, at) : reading.node_at(at, line);
  }
};

}  // namespace bareglass::host
