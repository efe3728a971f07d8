// The part of a bare reading that a finger takes, from a panel file: the scale of dumps that do not
// state it. Held against the independent field solution (see sim/panel/data/field_reference.toml):
// what an 8 mm disc takes from a node, and the node, fF.
#include <gtest/gtest.h>

#include "bareglass/panel_model/glass_model.hpp"
#include "bareglass/replay/finger_scale.hpp"

namespace bareglass::panel {
namespace {

TEST(FingerShare, IsThatOfTheIndependentSolutionOnEveryGlass) {
  struct Glass {
    const char* file;
    double taken, node;
  };
  for (const Glass& g : {Glass{"0_7", 205, 1126}, Glass{"1_1", 175, 1140}, Glass{"2_0", 117, 1147},
                         Glass{"3_0", 78, 1148}}) {
    const std::string path =
        BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_" + std::string(g.file) + ".toml";
    EXPECT_NEAR(finger_share(field::load_panel(path), path), g.taken / g.node,
                0.04 * g.taken / g.node)
        << g.file;
  }
}

TEST(FingerShare, TakenForAnUnknownPanelIsThatOfCommonGlass) {
  EXPECT_NEAR(host::kUsualFingerShare, 175.0 / 1140.0, 0.005);
}

}  // namespace
}  // namespace bareglass::panel
