#include "bareglass/infer/kernel_bank.hpp"

#include <cmath>
#include <map>
#include <memory>
#include <mutex>
#include <vector>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/surface_model.hpp"
#include "shipped_kernels.hpp"

namespace bareglass::infer {

namespace {

const std::vector<field::SurfaceKernels>& bank() {
  static const std::vector<field::SurfaceKernels> all = [] {
    std::vector<field::SurfaceKernels> out;
    for (int k = 0; k < kShippedKernelCount; ++k)
      out.push_back(field::parse_kernels(kShippedKernels[k].text, kShippedKernels[k].name));
    return out;
  }();
  return all;
}

constexpr double kFinger_mm = 8.0;  ///< the disc that a panel's finger signal is stated for
constexpr int kLines = 5;

/// Share of a bare node that the finger takes, on the kernels' stack scaled to a pitch.
double share_of(const field::SurfaceKernels& kernels, const field::SurfaceModel& model,
                double pitch_mm) {
  const double scaled = kFinger_mm * kernels.column_pitch_mm / pitch_mm;
  const field::Point middle{kLines / 2 * kernels.column_pitch_mm,
                            kLines / 2 * kernels.row_pitch_mm};
  const field::Coupling c = model.couple(field::Footprint::disc(middle, scaled), {kLines, kLines});
  return -c.change(kLines / 2, kLines / 2, std::numeric_limits<double>::infinity()) /
         kernels.numbers.node;
}

/// Of every member of the bank; computed once a pitch.
std::vector<double> shares_at(double pitch_mm) {
  static std::mutex guard;
  static std::map<long, std::vector<double>> known;
  static const std::vector<std::unique_ptr<field::SurfaceModel>> models = [] {
    std::vector<std::unique_ptr<field::SurfaceModel>> out;
    for (const field::SurfaceKernels& k : bank())
      out.push_back(std::make_unique<field::SurfaceModel>(k));
    return out;
  }();
  const long key = std::lround(pitch_mm * 100.0);
  const std::lock_guard<std::mutex> lock(guard);
  std::vector<double>& shares = known[key];
  if (shares.empty())
    for (std::size_t k = 0; k < bank().size(); ++k)
      shares.push_back(share_of(bank()[k], *models[k], pitch_mm));
  return shares;
}

}  // namespace

const field::SurfaceKernels& kernels_for(double finger_share, double pitch_mm) {
  const std::vector<double> shares = shares_at(pitch_mm);
  std::size_t best = 0;
  for (std::size_t k = 1; k < shares.size(); ++k)
    if (std::abs(std::log(shares[k] / finger_share)) <
        std::abs(std::log(shares[best] / finger_share)))
      best = k;
  return bank()[best];
}

}  // namespace bareglass::infer
