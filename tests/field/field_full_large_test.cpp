// Large conductors by the fast model beside full solutions, on four glasses.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <ostream>
#include <string>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/panel_window.hpp"
#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {
namespace {

constexpr int kShift = 20;
constexpr double kPitch = 5.0;

/// A thing about a point that is a mirror plane of the panel both ways: on a node or between four.
struct Body {
  const char* name;
  bool disc;
  double size_mm;
  double middle;  ///< pitches, in x and y: 0 or 0.5
};

struct Glass {
  const char* file;
  double mm;
  double grounded;     ///< bound of a grounded body's change, part of it
  double isolated_ff;  ///< bound of an isolated body's change, above its 3 %
};

/// What a failing case is called.
void PrintTo(const Glass& glass, std::ostream* out) { *out << glass.file << " mm"; }

Mesh mesh(const Body& body) {
  Mesh m;
  m.edge_mm = 0.07;
  m.bulk_mm = 0.5;
  m.growth = 0.3;
  m.object_mm = body.size_mm > 14.0 ? 0.25 : 0.12;
  return m;
}

class LargeBodies : public ::testing::TestWithParam<Glass> {
 protected:
  void compare(const Body& body) {
    const Point middle{body.middle * kPitch, body.middle * kPitch};
    const Footprint outline = body.disc ? Footprint::disc(middle, body.size_mm)
                                        : Footprint::rectangle(middle, body.size_mm, body.size_mm);
    Scene scene;
    scene.object = outline;
    if (!body.disc) {
      // Straight edges on grid lines, as electrodes' own: see window_mesh.hpp.
      const double edge = middle.x + 0.5 * body.size_mm;
      scene.x_lines = scene.y_lines = {{edge - 0.038, 0.1}, {edge + 0.062, 0.1}};
    }
    const double end = std::ceil(2.0 * (body.middle + 0.5 * body.size_mm / kPitch)) / 2.0 + 2.5;
    const Span span{body.middle, end, true};
    const int first = static_cast<int>(std::ceil(body.middle));
    const int last = static_cast<int>(body.middle + 0.5 * body.size_mm / kPitch + 1.4);
    std::vector<int> rows;
    for (int r = first; r <= last; ++r) rows.push_back(r);
    const ObjectSolution full = solve_object(
        PanelWindow(reference_panel(GetParam().mm), span, span, mesh(body), scene), rows);
    const Coupling fast =
        model_.couple(outline.moved({kShift * kPitch, kShift * kPitch}), {60, 60});
    double grounded = 0.0;
    double isolated = 0.0;
    for (int r = first; r <= last; ++r)
      for (int c = first; c <= last; ++c) {
        const double loss = full.change(r, c, INFINITY);
        const double alone = full.change(r, c, 0.0);
        const double loss_off = fast.change(r + kShift, c + kShift, INFINITY) - loss;
        const double alone_off = fast.change(r + kShift, c + kShift, 0.0) - alone;
        grounded = std::max(grounded, std::abs(loss_off));
        isolated = std::max(isolated, std::abs(alone_off));
        EXPECT_LT(std::abs(loss_off), std::max(1.0, GetParam().grounded * std::abs(loss)))
            << body.name << ' ' << r << ' ' << c << ": " << loss;
        EXPECT_LT(std::abs(alone_off), GetParam().isolated_ff + 0.03 * std::abs(alone))
            << body.name << ' ' << r << ' ' << c << ": " << alone;
      }
    std::printf("%s on %.1f mm: grounded %.1f fF off at worst, isolated %.1f; C_FF %.2f %%\n",
                body.name, GetParam().mm, grounded, isolated, 100 * (fast.self / full.self - 1));
    EXPECT_NEAR(fast.self / full.self, 1.0, 0.012) << body.name;
  }

  const SurfaceModel model_{
      load_kernels(std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_") +
                   GetParam().file + ".kernels")};
};

TEST_P(LargeBodies, ChangeNodesAsInTheFullSolution) {
  for (const Body& body :
       {Body{"12 mm disc", true, 12.0, 0.0}, Body{"20 mm square", false, 20.0, 0.0},
        Body{"24 mm square", false, 24.0, 0.5}, Body{"30 mm disc", true, 30.0, 0.0}})
    compare(body);
}

INSTANTIATE_TEST_SUITE_P(, LargeBodies,
                         ::testing::Values(Glass{"0_7", 0.7, 0.033, 2.8},
                                           Glass{"1_1", 1.1, 0.02, 1.5},
                                           Glass{"2_0", 2.0, 0.02, 0.6},
                                           Glass{"3_0", 3.0, 0.02, 0.4}),
                         [](const auto& one) { return "Glass" + std::string(one.param.file); });

}  // namespace
}  // namespace bareglass::field
