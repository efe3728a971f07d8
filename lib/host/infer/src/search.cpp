#include "bareglass/infer/search.hpp"

#include <algorithm>
#include <cmath>

#include "block_work.hpp"

namespace bareglass::infer {

namespace {

constexpr double kOddsOfACompanion = 1e-3;
constexpr int kChecks = 2;              // rounds of checking forms by patches and fitting them anew
constexpr std::size_t kChecked = 8;     // scenes that patches are asked about
constexpr double kWorthGoingOn = 40.0;  // further from the best than e^-40: never the answer
constexpr std::size_t kGoneOnIfLarge = 3;  // scenes of a large block that are gone on with

/// Cost of the strongest node as one that reads by itself.
double lone_cost(const Work& work, int& lone_row, int& lone_column) {
  Eigen::Index row = 0;
  Eigen::Index column = 0;
  work.evidence.departure.cwiseQuotient(work.evidence.sigma).cwiseAbs().maxCoeff(&row, &column);
  lone_row = static_cast<int>(row);
  lone_column = static_cast<int>(column);
  NodeMap predicted = NodeMap::Zero(work.model.rows(), work.model.columns());
  predicted(row, column) = work.evidence.departure(row, column);
  return misfit_of(work.evidence, predicted) + work.options.lone_node;
}

/// Whether no other node of the block stands out of its noise by itself.
bool stands_alone(const Work& work, const Departure& map, const BlockScenes& found) {
  const Block& b = found.block;
  const float limit = noise_limit(static_cast<double>(b.rows() * b.columns()), kOddsOfACompanion);
  for (int c = 0; c < b.columns(); ++c)
    for (int r = 0; r < b.rows(); ++r) {
      if (r == found.lone_row && c == found.lone_column) continue;
      const float noise = map.noise(b.row0 + r, b.column0 + c);
      if (std::isfinite(noise) && std::abs(work.evidence.departure(r, c)) > limit * noise)
        return false;
    }
  return true;
}

}  // namespace

BlockScenes explain_block(const field::SurfaceKernels& kernels, double pitch_x_mm,
                          double pitch_y_mm, const Departure& map, const Block& block,
                          const SearchOptions& options) {
  const CellModel model(kernels, block.rows(), block.columns(), pitch_x_mm, pitch_y_mm);
  const PatchCheck patches(kernels, pitch_x_mm, pitch_y_mm);
  const Work work{model, evidence_of(map, block, model.full_loss(), options), options, patches};
  BlockScenes out;
  out.block = block;
  out.nothing = misfit_of(work.evidence, NodeMap::Zero(block.rows(), block.columns()));
  out.scenes = first_scenes(work);
  const auto cheaper = [](const Scene& a, const Scene& b) { return a.cost() < b.cost(); };
  std::sort(out.scenes.begin(), out.scenes.end(), cheaper);
  double least = out.scenes.empty() ? 0.0 : out.scenes.front().cost();
  std::size_t gone_on = 0;
  for (Scene& s : out.scenes) {
    if (work.is_large() && gone_on >= kGoneOnIfLarge) break;
    // One that leaves much may do better with company than the best so far.
    if (s.cost() > least + kWorthGoingOn && s.misfit > 0.5 * out.nothing) continue;
    ++gone_on;
    complete(work, s);
    least = std::min(least, s.cost());
  }
  std::sort(out.scenes.begin(), out.scenes.end(), cheaper);
  for (std::size_t k = 0; k < std::min(out.scenes.size(), kChecked); ++k)
    check_by_patches(work, out.scenes[k], kChecks);
  if (out.scenes.size() > kChecked) out.scenes.resize(kChecked);
  std::sort(out.scenes.begin(), out.scenes.end(), cheaper);
  const double lone = lone_cost(work, out.lone_row, out.lone_column);
  out.is_lone = !out.scenes.empty() && lone < out.scenes.front().cost() &&
                lone < out.nothing - options.prices.thing && stands_alone(work, map, out);
  out.lone_row += block.row0;
  out.lone_column += block.column0;
  return out;
}

std::vector<BlockScenes> search(const field::SurfaceKernels& kernels, double pitch_x_mm,
                                double pitch_y_mm, const Departure& map,
                                const SearchOptions& options) {
  const double scale =
      std::sqrt(pitch_x_mm * pitch_y_mm / (kernels.column_pitch_mm * kernels.row_pitch_mm));
  const auto full = static_cast<float>(kernels.numbers.full_loss * scale);
  const NodeMap single = over_noise(map);
  std::vector<BlockScenes> out;
  for (const Block& b : find_blocks(map, full, options)) {
    BlockScenes found = explain_block(kernels, pitch_x_mm, pitch_y_mm, map, b, options);
    found.significant = static_cast<double>(
        single.block(b.row0, b.column0, b.rows(), b.columns()).cwiseAbs().maxCoeff());
    found.is_unknown =
        !found.is_lone && (found.scenes.empty() || found.scenes.front().cost() >= found.nothing);
    if (!found.is_unknown || found.nothing > options.unknown) out.push_back(std::move(found));
  }
  return out;
}

}  // namespace bareglass::infer
