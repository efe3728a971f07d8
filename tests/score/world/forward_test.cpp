// The judge's panel against the simulated panel, which composes the same physics by other code.

#include <gtest/gtest.h>

#include "bareglass/panel/simulated_panel.hpp"
#include "forward.hpp"
#include "panels.hpp"
#include "unit.hpp"

namespace bareglass::world {
namespace {

class PanelOfTheJudge : public testing::Test {
 protected:
  void SetUp() override {
    keep_in(std::string(BAREGLASS_BINARY_DIR) + "/score_kernels",
            std::string(BAREGLASS_SOURCE_DIR) + "/fixtures/panels");
    case_.panel = 1;
    case_.scenario.panel = panel_spec(1);
    case_.scenario.setup.rows = 16;
    case_.scenario.setup.columns = 10;
    case_.scenario.setup.front_end.spread_ff = 0.0;
  }
  panel::NodeMatrix judged(const panel::Situation& now) {
    Forward forward(case_);
    panel::NodeMatrix charge;
    Eigen::VectorXd hum;
    forward.read(charge, hum, now, now.faults);
    return charge;
  }
  panel::NodeMatrix simulated(const panel::Situation& now) {
    panel::SimulatedPanel simulated(panel_spec(1), panel_kernels(1), case_.scenario.setup);
    std::vector<std::uint16_t> counts;
    simulated.scan(counts, now, 20000);
    return simulated.charge();
  }
  WorldCase case_;
};

TEST_F(PanelOfTheJudge, ReadsConductorsAndFaultsAsTheSimulatedPanelDoes) {
  panel::Situation now;
  now.conductors.push_back({panel::Outline::disc(8.0), {22, 31}, 100.0, 0.0, {}});
  now.conductors.push_back({panel::Outline::rectangle(14, 22), {10, 58}, 0.0, 0.0, {}});
  panel::LineFault cut;
  cut.kind = panel::LineFault::Kind::cut;
  cut.first = cut.last = 3;
  cut.at = 4;
  now.faults = {cut};
  const double off = (judged(now) - simulated(now)).cwiseAbs().maxCoeff();
  EXPECT_LT(off, 1e-6);
}

TEST_F(PanelOfTheJudge, ReadsLayersAsTheSimulatedPanelDoesToAFewPerCent) {
  panel::Situation now;
  const panel::NodeMatrix bare = judged(now);
  now.films.push_back({panel::Outline::rectangle(24, 33), {21, 40}, 200.0, 3.0});
  const panel::NodeMatrix mine = judged(now) - bare;
  const panel::NodeMatrix other = simulated(now) - bare;
  ASSERT_GT(other.cwiseAbs().maxCoeff(), 1.0) << "fF: the layer has to be seen at all";
  // Both integrate the node's loss kernel over the layer, on other squares and to another reach.
  EXPECT_LT((mine - other).cwiseAbs().maxCoeff(), 0.05 * other.cwiseAbs().maxCoeff());
}

TEST_F(PanelOfTheJudge, IsWrongOnPurposeInTheSecondWorldByAFewPerCent) {
  panel::Situation now;
  const panel::NodeMatrix bare = judged(now);
  now.conductors.push_back({panel::Outline::disc(8.0), {20, 30}, panel::kConnected, 0.0, {}});
  const panel::NodeMatrix first = judged(now) - bare;
  case_.world = 2;
  case_.disturbance.map_error = 0.04;
  case_.seed = 5;
  const panel::NodeMatrix second = judged(now) - bare;
  const double off = (second - first).cwiseAbs().maxCoeff() / first.cwiseAbs().maxCoeff();
  EXPECT_GT(off, 0.002);
  EXPECT_LT(off, 0.15);
}

TEST_F(PanelOfTheJudge, PassesOnMoreOrLessInTheSecondWorld) {
  panel::Situation now;
  const panel::NodeMatrix bare = judged(now);
  now.conductors.push_back({panel::Outline::rectangle(22, 22), {20, 30}, 0.0, 0.0, {}});
  const panel::NodeMatrix first = judged(now) - bare;
  case_.world = 2;
  case_.disturbance.passed_error = 0.05;
  const panel::NodeMatrix second = judged(now) - bare;
  // What an isolated thing passes on is added, never lost.
  EXPECT_GT((second - first).minCoeff(), -1e-9);
  EXPECT_GT((second - first).maxCoeff(), 0.5);
}

}  // namespace
}  // namespace bareglass::world
