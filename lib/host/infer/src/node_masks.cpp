#include "node_masks.hpp"

#include <algorithm>

namespace bareglass::infer {

void for_each_part(Mask mask,
                   const std::function<void(const std::vector<Eigen::Vector2i>&)>& part) {
  std::vector<Eigen::Vector2i> open;
  std::vector<Eigen::Vector2i> all;
  for (int c = 0; c < mask.cols(); ++c)
    for (int r = 0; r < mask.rows(); ++r) {
      if (!mask(r, c)) continue;
      mask(r, c) = 0;
      open.assign(1, {r, c});
      all.clear();
      while (!open.empty()) {
        const Eigen::Vector2i at = open.back();
        open.pop_back();
        all.push_back(at);
        for (int dr = -1; dr <= 1; ++dr)
          for (int dc = -1; dc <= 1; ++dc) {
            const int y = at.x() + dr;
            const int x = at.y() + dc;
            if (y < 0 || x < 0 || y >= mask.rows() || x >= mask.cols() || !mask(y, x)) continue;
            mask(y, x) = 0;
            open.emplace_back(y, x);
          }
      }
      part(all);
    }
}

Mask grown(const Mask& mask, int by) {
  Mask out = Mask::Zero(mask.rows(), mask.cols());
  for (int c = 0; c < mask.cols(); ++c)
    for (int r = 0; r < mask.rows(); ++r) {
      if (!mask(r, c)) continue;
      const int r0 = std::max(0, r - by);
      const int c0 = std::max(0, c - by);
      const auto r1 = static_cast<int>(std::min<Eigen::Index>(mask.rows() - 1, r + by));
      const auto c1 = static_cast<int>(std::min<Eigen::Index>(mask.cols() - 1, c + by));
      out.block(r0, c0, r1 - r0 + 1, c1 - c0 + 1).setOnes();
    }
  return out;
}

}  // namespace bareglass::infer
