// Where a map stands out of its noise.

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>

#include "bareglass/infer/search.hpp"
#include "node_masks.hpp"

namespace bareglass::infer {

namespace {

/// Running sums: the sum over rows [r0, r1) and columns [c0, c1) in four steps.
class BoxSums {
 public:
  explicit BoxSums(const NodeMap& values)
      : sums_(Eigen::MatrixXd::Zero(values.rows() + 1, values.cols() + 1)) {
    for (Eigen::Index c = 0; c < values.cols(); ++c)
      for (Eigen::Index r = 0; r < values.rows(); ++r)
        sums_(r + 1, c + 1) =
            static_cast<double>(values(r, c)) + sums_(r, c + 1) + sums_(r + 1, c) - sums_(r, c);
  }
  double over(int r0, int r1, int c0, int c1) const {
    return sums_(r1, c1) - sums_(r0, c1) - sums_(r1, c0) + sums_(r0, c0);
  }

 private:
  Eigen::MatrixXd sums_;
};

constexpr float kFaintest = 3.f;  // standard deviations of a node that counts in full

/// Marks in `seeds` where the mean over boxes of `high` x `wide` nodes stands out.
void mark_wide(Mask& seeds, Mask& reach, const Departure& map, int high, int wide, float limit,
               float least, float together) {
  const auto rows = static_cast<int>(map.value.rows());
  const auto cols = static_cast<int>(map.value.cols());
  NodeMap value = map.value;
  NodeMap square = map.noise.array().square();
  NodeMap count = NodeMap::Ones(rows, cols);
  // What is strong is seen as it is; here it must not lend its strength to all around it.
  const float most = high * wide > 9 ? kFaintest : 1e9f;
  for (Eigen::Index k = 0; k < value.size(); ++k) {
    if (!std::isfinite(map.noise(k))) value(k) = square(k) = count(k) = 0.f;
    value(k) = std::clamp(value(k), -most * map.noise(k), most * map.noise(k));
    if (!std::isfinite(value(k))) value(k) = 0.f;
  }
  const BoxSums values(value);
  const BoxSums squares(square);
  const BoxSums counts(count);
  for (int c = 0; c < cols; ++c)
    for (int r = 0; r < rows; ++r) {
      const int r0 = std::max(0, r - high / 2), r1 = std::min(rows, r + high / 2 + 1);
      const int c0 = std::max(0, c - wide / 2), c1 = std::min(cols, c + wide / 2 + 1);
      const double nodes = counts.over(r0, r1, c0, c1);
      if (nodes < 1) continue;
      const auto mean = static_cast<float>(values.over(r0, r1, c0, c1) / nodes);
      const auto of_nodes = static_cast<float>(squares.over(r0, r1, c0, c1) / (nodes * nodes));
      if (std::abs(mean) < limit * std::sqrt(of_nodes + together * together) ||
          std::abs(mean) < least)
        continue;
      seeds(r, c) = 1;
      const int y = std::max(0, r - high / 4), x = std::max(0, c - wide / 4);
      reach.block(y, x, std::min(rows, r + high / 4 + 1) - y, std::min(cols, c + wide / 4 + 1) - x)
          .setOnes();
    }
}

Block box_of(const std::vector<Eigen::Vector2i>& places) {
  Block b{places[0].x(), places[0].x(), places[0].y(), places[0].y()};
  for (const Eigen::Vector2i& p : places) {
    b.row0 = std::min(b.row0, p.x());
    b.row1 = std::max(b.row1, p.x());
    b.column0 = std::min(b.column0, p.y());
    b.column1 = std::max(b.column1, p.y());
  }
  return b;
}

Block widened(Block b, int by, int rows, int columns) {
  return {std::max(0, b.row0 - by), std::min(rows - 1, b.row1 + by), std::max(0, b.column0 - by),
          std::min(columns - 1, b.column1 + by)};
}

bool meet(const Block& a, const Block& b) {
  return a.row0 <= b.row1 && b.row0 <= a.row1 && a.column0 <= b.column1 && b.column0 <= a.column1;
}

Block joined(const Block& a, const Block& b) {
  return {std::min(a.row0, b.row0), std::max(a.row1, b.row1), std::min(a.column0, b.column0),
          std::max(a.column1, b.column1)};
}

void join_meeting(std::vector<Block>& blocks) {
  for (bool again = true; again;) {
    again = false;
    for (std::size_t i = 0; i < blocks.size() && !again; ++i)
      for (std::size_t j = i + 1; j < blocks.size() && !again; ++j) {
        if (!meet(blocks[i], blocks[j])) continue;
        blocks[i] = joined(blocks[i], blocks[j]);
        blocks.erase(blocks.begin() + static_cast<std::ptrdiff_t>(j));
        again = true;
      }
  }
}

constexpr int kMargin = 2;  // a body's skirt reaches two nodes beyond its outline

}  // namespace

NodeMap over_noise(const Departure& map) {
  NodeMap out = NodeMap::Zero(map.value.rows(), map.value.cols());
  for (Eigen::Index k = 0; k < out.size(); ++k)
    if (std::isfinite(map.noise(k))) out(k) = map.value(k) / map.noise(k);
  return out;
}

float noise_limit(double looks, double odds) {
  const double tail = std::max(1e-15, odds / (2.0 * std::max(1.0, looks)));
  return static_cast<float>(boost::math::quantile(complement(boost::math::normal(), tail)));
}

std::vector<Block> find_blocks(const Departure& map, float full, const SearchOptions& o) {
  const NodeMap single = over_noise(map);
  const auto looks = static_cast<double>(map.value.size());
  const float limit = noise_limit(looks, o.false_blocks);
  const auto rows = static_cast<int>(map.value.rows());
  const auto cols = static_cast<int>(map.value.cols());
  Mask seeds = Mask::Zero(rows, cols);
  Mask reach = Mask::Zero(rows, cols);
  for (int c = 0; c < cols; ++c)
    for (int r = 0; r < rows; ++r) {
      const float size = std::abs(map.value(r, c));
      seeds(r, c) = std::abs(single(r, c)) > limit && size > o.least * full;
      reach(r, c) = seeds(r, c) || (std::abs(single(r, c)) > 3.f && size > o.least_wide * full);
    }
  // Of drops, notes, and strips along either kind of line.
  for (const auto& [high, wide] : {std::pair{3, 3}, {5, 5}, {9, 9}, {3, 11}, {11, 3}})
    if (high < rows && wide < cols)
      mark_wide(seeds, reach, map, high, wide, limit,
                wide == high && wide == 3 ? o.least_wide * full : 0.f, o.together);
  std::vector<Block> blocks;
  for_each_part(grown(reach, 1), [&](const std::vector<Eigen::Vector2i>& places) {
    const bool seeded = std::any_of(places.begin(), places.end(), [&](const Eigen::Vector2i& p) {
      return seeds(p.x(), p.y()) != 0;
    });
    if (seeded) blocks.push_back(widened(box_of(places), kMargin - 1, rows, cols));
  });
  join_meeting(blocks);
  return blocks;
}

Evidence evidence_of(const Departure& map, const Block& b, float full, const SearchOptions& o) {
  Evidence e;
  e.departure = map.value.block(b.row0, b.column0, b.rows(), b.columns());
  e.sigma = map.noise.block(b.row0, b.column0, b.rows(), b.columns());
  const NodeMap size = e.departure.cwiseAbs();
  for (int c = 0; c < b.columns(); ++c)
    for (int r = 0; r < b.rows(); ++r) {
      float around = 0.f;
      for (int y = std::max(0, r - 1); y <= std::min(b.rows() - 1, r + 1); ++y)
        for (int x = std::max(0, c - 1); x <= std::min(b.columns() - 1, c + 1); ++x)
          if (std::isfinite(e.sigma(y, x))) around = std::max(around, size(y, x));
      // Nothing lies where nothing is seen: the error grows with what is seen, up to its full size.
      const float near = o.near_share * full * std::min(1.f, around / (0.1f * full));
      const float share = o.model_share * size(r, c);
      const float noise = e.sigma(r, c);
      e.sigma(r, c) = std::sqrt(noise * noise + near * near + share * share);
    }
  return e;
}

}  // namespace bareglass::infer
