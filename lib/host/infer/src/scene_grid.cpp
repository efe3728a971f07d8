#include "scene_grid.hpp"

#include <algorithm>
#include <utility>

namespace bareglass::host {

void include(Box& box, int r, int c) {
  box.row0 = std::min<std::uint8_t>(box.row0, static_cast<std::uint8_t>(r));
  box.row1 = std::max<std::uint8_t>(box.row1, static_cast<std::uint8_t>(r));
  box.col0 = std::min<std::uint8_t>(box.col0, static_cast<std::uint8_t>(c));
  box.col1 = std::max<std::uint8_t>(box.col1, static_cast<std::uint8_t>(c));
}

Patch grown(const Grid& grid, int r, int c, float sign, float limit, std::vector<char>* reached) {
  Patch patch;
  std::vector<char> own(reached == nullptr ? grid.map.size() : 0, 0);
  std::vector<char>& seen = reached == nullptr ? own : *reached;
  std::vector<std::pair<int, int>> open{{r, c}};
  seen[static_cast<std::size_t>(r * grid.shape.cols + c)] = 1;
  while (!open.empty()) {
    const auto [y, x] = open.back();
    open.pop_back();
    include(patch.box, y, x);
    ++patch.nodes;
    patch.sum += static_cast<double>(sign * grid.at(y, x));
    for (int dy = -1; dy <= 1; ++dy)
      for (int dx = -1; dx <= 1; ++dx) {
        if (!grid.holds(y + dy, x + dx) || sign * grid.at(y + dy, x + dx) < limit) continue;
        char& mark = seen[static_cast<std::size_t>((y + dy) * grid.shape.cols + x + dx)];
        if (mark) continue;
        mark = 1;
        open.emplace_back(y + dy, x + dx);
      }
  }
  return patch;
}

}  // namespace bareglass::host
