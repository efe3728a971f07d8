// What the judge's front end does to a panel that is known exactly.

#include <gtest/gtest.h>

#include <cmath>

#include "front_end.hpp"

namespace bareglass::world {
namespace {

constexpr double kBare = 400.0;  // fF
constexpr double kGain = 10.0;   // counts/fF

class QuietFrontEnd : public testing::Test {
 protected:
  QuietFrontEnd() {
    panel::Scenario& s = case_.scenario;
    s.setup.rows = 16;
    s.setup.columns = 10;
    s.duration_s = 10;
    s.setup.front_end.noise_ff = 0.0;
    s.setup.front_end.counts_per_ff = kGain;
    bare_ = panel::NodeMatrix::Constant(16, 10, kBare);
    hum_ = Eigen::VectorXd::Zero(10);
  }
  std::vector<std::uint16_t> scan(FrontEnd& front_end, double t_s, double since_s) {
    std::vector<std::uint16_t> out;
    front_end.digitise(out, bare_, hum_, {}, t_s, since_s);
    return out;
  }
  WorldCase case_;
  panel::NodeMatrix bare_;
  Eigen::VectorXd hum_;
};

TEST_F(QuietFrontEnd, SettlesFromBelow) {
  case_.disturbance.settle_depth = 0.2;
  case_.disturbance.settle_tau_s = 0.01;
  FrontEnd front_end(case_, bare_);
  // The last row begins one row time before the end of the scan.
  const double since_s = 0.02 - 200e-6;
  EXPECT_NEAR(scan(front_end, 0.02, 0.02).back(),
              kGain * kBare * (1 - 0.2 * std::exp(-since_s / 0.01)), 1.0);
  EXPECT_NEAR(scan(front_end, 1.0, 1.0).back(), kGain * kBare, 1.0);
}

TEST_F(QuietFrontEnd, RaisesCountsUnderATouchIfItIsMadeSo) {
  case_.disturbance.counts_rise = true;
  FrontEnd front_end(case_, bare_);
  const int before = scan(front_end, 1, 1)[35];
  bare_(3, 5) -= 60;
  EXPECT_NEAR(scan(front_end, 2, 2)[35] - before, 60 * kGain, 1.5);
}

TEST_F(QuietFrontEnd, SwingsWholeRows) {
  case_.disturbance.row_swing_ff = 3.0;
  FrontEnd front_end(case_, bare_);
  double square = 0.0;
  constexpr int kScans = 200;
  for (int k = 0; k < kScans; ++k) {
    const auto out = scan(front_end, 1 + 0.02 * k, 1);
    for (int c = 1; c < 10; ++c) ASSERT_EQ(out[20], out[static_cast<std::size_t>(20 + c)]);
    square += std::pow(out[20] - kGain * kBare, 2) / kScans;
  }
  EXPECT_NEAR(std::sqrt(square), 30.0, 6.0);  // a tenth is chance: 200 scans, four sigma
}

TEST_F(QuietFrontEnd, ReadsTwelveBits) {
  case_.disturbance.twelve_bits = true;
  case_.disturbance.row_swing_ff = 3.0;
  FrontEnd front_end(case_, bare_);
  for (const std::uint16_t v : scan(front_end, 1, 1)) EXPECT_EQ(v % 16, 0);
}

// The sum of processes with the correlation exp(-t / tau) has their mean correlation (Uhlenbeck and
// Ornstein, "On the theory of the Brownian motion", Phys. Rev. 36, 1930, 823; from memory).
TEST_F(QuietFrontEnd, FlickersWithTheCorrelationOfItsProcesses) {
  case_.disturbance.flicker_ff = 20.0;
  FrontEnd front_end(case_, bare_);
  constexpr double kStep_s = 0.1;
  constexpr int kScans = 400;
  std::vector<std::uint16_t> last;
  double product = 0.0;
  double square = 0.0;
  for (int k = 0; k < kScans; ++k) {
    const auto out = scan(front_end, 1 + kStep_s * k, 1);
    for (std::size_t i = 0; i < out.size(); ++i) {
      const double x = out[i] / kGain - kBare;
      square += x * x;
      if (!last.empty()) product += x * (last[i] / kGain - kBare);
    }
    last = out;
  }
  const double nodes = 160.0;
  const double rms = std::sqrt(square / (kScans * nodes));
  const double correlation = product / ((kScans - 1) * nodes) / (rms * rms);
  const double expected =
      (std::exp(-kStep_s / 0.05) + std::exp(-kStep_s / 0.3) + std::exp(-kStep_s / 2.0)) / 3;
  EXPECT_NEAR(rms, 20.0, 1.0);
  EXPECT_NEAR(correlation, expected, 0.03);
}

TEST_F(QuietFrontEnd, StoresAReferenceOfAnotherGainWithItsOwnNoise) {
  case_.disturbance.reference_gain = 0.02;
  case_.disturbance.reference_frames = 4;
  case_.scenario.setup.front_end.noise_ff = 2.0;
  FrontEnd front_end(case_, bare_);
  double sum = 0.0;
  double square = 0.0;
  for (const std::uint16_t v : front_end.reference()) {
    sum += v / kGain / 160;
    square += std::pow(v / kGain - kBare / 1.02, 2) / 160;
  }
  EXPECT_NEAR(sum, kBare / 1.02, 0.35);
  EXPECT_NEAR(std::sqrt(square), 2.0 / std::sqrt(4.0), 0.25);
}

}  // namespace
}  // namespace bareglass::world
