#include "panel_bend.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

constexpr int kOrder = 3;
constexpr int kTerms = kOrder * kOrder + 1;
constexpr int kBendRounds = 8;
// Tukey's biweight leaves out what departs by more than so many standard deviations.
constexpr float kBiweightReach = 5.f;

void legendre(float (&p)[kOrder], float x) {
  p[0] = x;
  p[1] = (3 * x * x - 1) / 2;
  p[2] = (5 * x * x - 3) * x / 2;
}

/// Terms of all nodes, one map after the other: a constant, then products of orders 1 to 3.
std::vector<Map> terms_of(Shape shape) {
  std::vector<Map> terms(kTerms, Map(static_cast<std::size_t>(shape.nodes()), 1.f));
  for (int r = 0; r < shape.rows; ++r)
    for (int c = 0; c < shape.cols; ++c) {
      const auto i = static_cast<std::size_t>(r * shape.cols + c);
      float y[kOrder];
      float x[kOrder];
      legendre(y, 2.f * static_cast<float>(r) / static_cast<float>(shape.rows - 1) - 1.f);
      legendre(x, 2.f * static_cast<float>(c) / static_cast<float>(shape.cols - 1) - 1.f);
      for (int k = 1; k < kTerms; ++k)
        terms[static_cast<std::size_t>(k)][i] = y[(k - 1) / kOrder] * x[(k - 1) % kOrder];
    }
  return terms;
}

struct Fitted {
  Map bend;                ///< less 1
  std::size_t inside = 0;  ///< nodes within three times the spread
};

/// From a first round with all of `start` of the nodes within reach on to the middle ones.
Fitted fitted(Map off, const std::vector<Map>& terms, const std::vector<char>& masked, float spread,
              double start) {
  Fitted out;
  out.bend.assign(off.size(), 0.f);
  for (int round = 0; round < kBendRounds; ++round) {
    std::vector<float> sizes;
    for (std::size_t i = 0; i < off.size(); ++i)
      if (!masked[i]) sizes.push_back(std::abs(off[i]));
    const double share = round < kBendRounds / 2 ? start : 0.5;
    const float scale =
        std::max(spread, quantile(std::move(sizes), share) / (share > 0.5 ? 2.f : 0.6745f));
    for (const Map& term : terms) {
      double along = 0;
      double norm = 1e-12;
      for (std::size_t i = 0; i < off.size(); ++i) {
        const float u = off[i] / (kBiweightReach * scale);
        if (masked[i] || std::abs(u) >= 1.f) continue;
        const float weight = (1.f - u * u) * (1.f - u * u);
        along += static_cast<double>(weight * off[i] * term[i]);
        norm += static_cast<double>(weight * term[i] * term[i]);
      }
      const auto step = static_cast<float>(along / norm);
      for (std::size_t i = 0; i < off.size(); ++i) {
        off[i] -= step * term[i];
        out.bend[i] += step * term[i];
      }
    }
  }
  for (std::size_t i = 0; i < off.size(); ++i)
    out.inside += !masked[i] && std::abs(off[i]) < 3.f * spread;
  return out;
}

}  // namespace

Map bend_of(const Map& level, const Map& product, const std::vector<char>& masked, float spread,
            Shape shape) {
  Map off(level.size(), 0.f);
  for (std::size_t i = 0; i < off.size(); ++i)
    if (product[i] > 0.f) off[i] = level[i] / product[i] - 1.f;
  const std::vector<Map> terms = terms_of(shape);
  // A corner that bends most must not be taken for a thing, nor a film for a bend: of a start with
  // all nodes and one with the middle ones that counts which leaves more of the panel smooth.
  Fitted with_all = fitted(off, terms, masked, spread, 0.99);
  Fitted with_middle = fitted(off, terms, masked, spread, 0.5);
  Fitted& better = with_all.inside >= with_middle.inside ? with_all : with_middle;
  for (float& v : better.bend) v = std::max(0.1f, 1.f + v);
  return std::move(better.bend);
}

}  // namespace bareglass::host
