// The fast models against full solutions: root mean square and worst error over objects of all
// kinds, every node they touch.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <string>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/panel_window.hpp"
#include "bareglass/field/surface_model.hpp"

namespace bareglass::field {
namespace {

/// An object near node (0, 0), and the nodes on which it is compared: columns -reach..reach, rows
/// -reach..last_row (0 is enough for a thing that looks the same upside down).
struct Object {
  std::string name;
  Footprint footprint;
  int reach = 1;
  int last_row = 1;
};

std::vector<Object> objects() {
  std::vector<Object> out;
  const auto add = [&](double diameter, double x, double y) {
    out.push_back({"disc", Footprint::disc({x, y}, diameter), 1, 1});
  };
  add(6.0, 0, 0);
  add(8.0, 1.25, 1.25);
  add(8.0, 2.5, 0);
  add(10.0, 2.5, 2.5);
  add(12.0, 0, 0);
  out.push_back({"square", Footprint::rectangle({0, 0}, 10, 10), 1, 0});
  out.push_back({"strip", Footprint::rectangle({0, 0}, 20, 4), 2, 0});
  std::vector<Shape> drops{Stroke{{{-10, -10}, {10, 10}}, 1.5}};
  for (int k = -2; k <= 2; ++k) drops.push_back(Disc{{5.0 * k, 5.0 * k}, 2.8});
  out.push_back({"drops", Footprint(drops), 2, 0});
  out.push_back(
      {"plus", Footprint({Stroke{{{-10, 0}, {10, 0}}, 5}, Stroke{{{0, -10}, {0, 10}}, 5}}), 2, 0});
  out.push_back({"coin", Footprint::disc({0, 0}, 24), 2, 0});
  return out;
}

/// Errors of one model, gathered node by node.
struct Errors {
  double loss_square = 0.0, loss_worst = 0.0;          // parts of the full loss
  double isolated_square = 0.0, isolated_worst = 0.0;  // fF
  double lines_worst = 0.0;  // C_TF and C_FR of the covered lines, relative
  double self_worst = 0.0;   // C_FF, relative
  int count = 0;

  void add(const ObjectSolution& full, const Coupling& fast, const Object& object,
           double full_loss) {
    constexpr int kShift = 20;
    for (int r = -object.reach; r <= object.last_row; ++r) {
      const double to_row = full.to_row(r - full.first_row);
      if (to_row > 0.1 * full.self)
        lines_worst = std::max(lines_worst,
                               std::abs(fast.to_row(r + kShift - fast.first_row) / to_row - 1.0));
      for (int c = -object.reach; c <= object.reach; ++c) {
        const double loss =
            (fast.change(r + kShift, c + kShift, INFINITY) - full.change(r, c, INFINITY)) /
            full_loss;
        const double isolated = fast.change(r + kShift, c + kShift, 0.0) - full.change(r, c, 0.0);
        loss_square += loss * loss;
        isolated_square += isolated * isolated;
        loss_worst = std::max(loss_worst, std::abs(loss));
        isolated_worst = std::max(isolated_worst, std::abs(isolated));
        ++count;
      }
    }
    self_worst = std::max(self_worst, std::abs(fast.self / full.self - 1.0));
  }

  double loss_rms() const { return std::sqrt(loss_square / count); }
  double isolated_rms() const { return std::sqrt(isolated_square / count); }
  void print(const char* name) const {
    std::printf(
        "%s, %d nodes: loss %.2f %% rms, %.2f %% worst of the full loss; isolated %.2f fF "
        "rms, %.2f fF worst; C_TF %.1f %% worst, C_FF %.1f %% worst\n",
        name, count, 100 * loss_rms(), 100 * loss_worst, isolated_rms(), isolated_worst,
        100 * lines_worst, 100 * self_worst);
  }
};

ObjectSolution solve(const PanelSpec& panel, const Object& object) {
  Mesh mesh;
  mesh.edge_mm = 0.09;
  mesh.bulk_mm = 0.5;
  mesh.growth = 0.3;
  mesh.object_mm = object.reach == 1 ? 0.15 : 0.2;  // the outline's staircase is an error too
  const double reach = object.reach + 1.5;
  Scene scene;
  scene.object = object.footprint;
  std::vector<int> rows;
  for (int r = -object.reach; r <= object.last_row; ++r) rows.push_back(r);
  const Span span{-reach, reach + 0.5, false};
  return solve_object(PanelWindow(panel, span, span, mesh, scene), rows);
}

TEST(FastModels, StayWithinTheirErrorsOnTheReferencePanel) {
  const SurfaceModel model(
      load_kernels(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_1_1.kernels"));
  const double full_loss = model.kernels().numbers.full_loss;
  Errors patches;
  Errors quick;
  for (const Object& object : objects()) {
    const ObjectSolution full = solve(reference_panel(), object);
    const Footprint there = object.footprint.moved({100, 100});
    patches.add(full, model.couple(there, {60, 60}), object, full_loss);
    quick.add(full, model.quick(there, {60, 60}), object, full_loss);
  }
  patches.print("patches");
  quick.print("quick");
  EXPECT_LT(patches.loss_rms(), 0.01);
  EXPECT_LT(patches.loss_worst, 0.03);
  EXPECT_LT(patches.isolated_rms(), 1.0);
  EXPECT_LT(patches.isolated_worst, 5.0);
  EXPECT_LT(patches.lines_worst, 0.03);
  EXPECT_LT(patches.self_worst, 0.03);
  EXPECT_LT(quick.loss_rms(), 0.02);
  EXPECT_LT(quick.loss_worst, 0.055);
  EXPECT_LT(quick.self_worst, 0.03);
  // The network formula subtracts large terms; the quick model is not for isolated small things.
  EXPECT_LT(quick.isolated_rms(), 9.0);
}

TEST(FastModels, StayWithinTheirErrorsOnOtherGlass) {
  for (const auto& [file, glass] :
       {std::pair{"0_7", 0.7}, std::pair{"2_0", 2.0}, std::pair{"3_0", 3.0}}) {
    const SurfaceModel model(
        load_kernels(std::string(BAREGLASS_SOURCE_DIR "/fixtures/panels/bars_and_stripes_") + file +
                     ".kernels"));
    Errors patches;
    for (const Object& object : {Object{"disc", Footprint::disc({0, 0}, 6), 1, 0},
                                 Object{"disc", Footprint::disc({1.25, 1.25}, 10), 1, 1}})
      patches.add(solve(reference_panel(glass), object),
                  model.couple(object.footprint.moved({100, 100}), {60, 60}), object,
                  model.kernels().numbers.full_loss);
    patches.print(file);
    EXPECT_LT(patches.loss_worst, 0.04);
    EXPECT_LT(patches.isolated_worst, 4.0);
  }
}

}  // namespace
}  // namespace bareglass::field
