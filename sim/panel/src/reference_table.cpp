// The reference table's conductors on the glass.
#include "bareglass/panel/reference_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <set>
#include <stdexcept>
#include <utility>

#include "reference_solve.hpp"

namespace bareglass::panel {

namespace {

using field::Footprint;
using field::Mesh;
using field::ObjectSolution;
using field::Span;

constexpr double kIsolated = 0.0;
constexpr int kFar = 20;  // the fast model's node for (0, 0), away from the panel's rim

/// One object solved both ways; nodes count from its own middle.
class Both {
 public:
  Both(double cover_mm, const Footprint& object, Span columns, Span rows,
       const std::vector<int>& driven, const Mesh& mesh, field::Scene scene = {}) {
    scene.object = object;
    full_ = solve_object(
        field::PanelWindow(field::reference_panel(cover_mm), columns, rows, mesh, scene), driven);
    const field::SurfaceModel& model = reference_model(cover_mm);
    fast_ = model.couple(
        object.moved({kFar * model.kernels().column_pitch_mm, kFar * model.kernels().row_pitch_mm}),
        {2 * kFar + 1, 2 * kFar + 1});
  }

  Quantity change(int row, int column, double to_ground) const {
    return {full_.change(row, column, to_ground),
            fast_.change(row + kFar, column + kFar, to_ground)};
  }
  Quantity to_row() const {
    return {full_.to_row(-full_.first_row), fast_.to_row(kFar - fast_.first_row)};
  }
  Quantity to_column() const {
    return {full_.to_column(-full_.first_column), fast_.to_column(kFar - fast_.first_column)};
  }
  Quantity self() const { return {full_.self, fast_.self}; }
  Quantity sign_flip_pf() const {
    const double fast =
        to_row().fast * to_column().fast / -change(0, 0, INFINITY).fast - fast_.self;
    return {full_.sign_flip(0, 0) * 1e-3, fast * 1e-3};
  }

 private:
  ObjectSolution full_;
  field::Coupling fast_;
};

Mesh fine() {
  Mesh mesh;
  mesh.object_mm = 0.1;
  return mesh;
}

/// For windows of many pitches. A finer one moves the changes of a streak by less than 1 fF.
Mesh wide() {
  Mesh mesh;
  mesh.edge_mm = 0.07;
  mesh.bulk_mm = 0.5;
  mesh.growth = 0.3;
  mesh.object_mm = 0.25;
  return mesh;
}

/// Grid lines for straight edges of an outline at these places of one axis, the outside in the
/// direction of `outwards` (+1 or -1): as electrodes' own edges, see window_mesh.hpp.
std::vector<field::Mark> edges(const std::vector<std::pair<double, int>>& at, double spacing) {
  constexpr double kInset = 0.38;
  std::vector<field::Mark> out;
  for (const auto& [place, outwards] : at) {
    out.push_back({place - outwards * kInset * spacing, spacing});
    out.push_back({place + outwards * (1.0 - kInset) * spacing, spacing});
  }
  return out;
}

Quantities solve_glass(double cover_mm) {
  const field::PanelNumbers n = field::solve_numbers(field::reference_panel(cover_mm));
  return {{"node", {n.node}},
          {"full grounded cover", {-n.full_loss}},
          {"row to next row", {n.row_to_row}},
          {"column to next column", {n.column_to_column}},
          {"cover to all, per mm2", {n.cover_per_mm2}}};
}

constexpr Span kQuarter{0.0, 3.5, true};

Quantities solve_disc(double diameter_mm) {
  const Both b(1.1, Footprint::disc({0, 0}, diameter_mm), kQuarter, kQuarter, {0}, fine());
  Quantities out{{"C_TF", b.to_row()},
                 {"C_FR", b.to_column()},
                 {"C_FF", b.self()},
                 {"grounded", b.change(0, 0, INFINITY)},
                 {"isolated", b.change(0, 0, kIsolated)},
                 {"sign flips at", b.sign_flip_pf()}};
  for (const int pf : {1, 3, 10, 30, 100, 200})
    out[fmt::format("{} pF", pf)] = b.change(0, 0, 1e3 * pf);
  return out;
}

Quantities solve_beside() {
  const Footprint disc = Footprint::disc({0, 0}, 8);
  const Both on(1.1, disc, kQuarter, kQuarter, {0}, fine());
  const Both aside(1.1, disc.moved({2.5, 0}), {0.5, 4.0, true}, kQuarter, {0}, fine());
  return {{"neighbour column, grounded", on.change(0, 1, INFINITY)},
          {"neighbour column, isolated", on.change(0, 1, kIsolated)},
          {"second neighbour, grounded", on.change(0, 2, INFINITY)},
          {"half a pitch aside, grounded", aside.change(0, 1, INFINITY)},
          {"half a pitch aside, isolated", aside.change(0, 1, kIsolated)}};
}

Quantities solve_disc_on(double cover_mm) {
  const Both b(cover_mm, Footprint::disc({0, 0}, 8), kQuarter, kQuarter, {0}, fine());
  return {{"grounded", b.change(0, 0, INFINITY)}, {"isolated", b.change(0, 0, kIsolated)}};
}

/// Water on some nodes: on each a square as wide as the pitch, which is how the reference's streaks
/// are read.
class WetNodes {
 public:
  explicit WetNodes(const std::set<std::pair<int, int>>& nodes) {
    constexpr double kPitch = 5.0;
    std::vector<field::Shape> squares;
    const auto edge = [](std::vector<std::pair<double, int>>& out, double line, int outwards) {
      const std::pair<double, int> mark{(line + 0.5 * outwards) * kPitch, outwards};
      if (std::find(out.begin(), out.end(), mark) == out.end()) out.push_back(mark);
    };
    std::vector<std::pair<double, int>> x;
    std::vector<std::pair<double, int>> y;
    for (const auto& [row, column] : nodes) {
      const double left = (column - 0.5) * kPitch;
      const double top = (row - 0.5) * kPitch;
      squares.push_back(field::Polygon{{{left, top},
                                        {left + kPitch, top},
                                        {left + kPitch, top + kPitch},
                                        {left, top + kPitch}}});
      for (const int side : {-1, 1}) {
        if (nodes.count({row, column + side}) == 0) edge(x, column, side);
        if (nodes.count({row + side, column}) == 0) edge(y, row, side);
      }
    }
    outline_ = Footprint(std::move(squares));
    x_ = std::move(x);
    y_ = std::move(y);
  }

  Both solved(Span span, const std::vector<int>& rows) const {
    constexpr double kSpacing = 0.1;  // mm
    field::Scene scene;
    scene.x_lines = edges(within(x_, span), kSpacing);
    scene.y_lines = edges(within(y_, span), kSpacing);
    return {1.1, outline_, span, span, rows, wide(), scene};
  }

 private:
  static std::vector<std::pair<double, int>> within(std::vector<std::pair<double, int>> marks,
                                                    Span span) {
    constexpr double kPitch = 5.0;
    const auto outside = [&](const std::pair<double, int>& mark) {
      return mark.first <= span.begin * kPitch || mark.first >= span.end * kPitch;
    };
    marks.erase(std::remove_if(marks.begin(), marks.end(), outside), marks.end());
    return marks;
  }

  Footprint outline_;
  std::vector<std::pair<double, int>> x_;  ///< straight edges, and which way outwards is
  std::vector<std::pair<double, int>> y_;
};

Quantities solve_diagonal() {
  const Both b = WetNodes({{-2, -2}, {-1, -1}, {0, 0}, {1, 1}, {2, 2}})
                     .solved({-4.5, 4.5, false}, {-2, -1, 0});
  return {{"end", b.change(-2, -2, kIsolated)},
          {"next", b.change(-1, -1, kIsolated)},
          {"middle", b.change(0, 0, kIsolated)},
          {"off it, two columns", b.change(-2, 0, kIsolated)},
          {"off it, three columns", b.change(-2, 1, kIsolated)},
          {"off it, four columns", b.change(-2, 2, kIsolated)},
          {"off it, across the middle", b.change(-1, 1, kIsolated)}};
}

Quantities solve_ell() {
  const Both b = WetNodes({{0, 0}, {0, 1}, {0, 2}, {0, 3}, {0, 4}, {1, 0}, {2, 0}, {3, 0}, {4, 0}})
                     .solved({-2.5, 6.5, false}, {0, 2, 3, 4});
  return {{"corner", b.change(0, 0, kIsolated)},
          {"along the row, 2nd", b.change(0, 2, kIsolated)},
          {"along the row, 3rd", b.change(0, 3, kIsolated)},
          {"along the row, 4th", b.change(0, 4, kIsolated)},
          {"along the column, 2nd", b.change(2, 0, kIsolated)},
          {"along the column, 3rd", b.change(3, 0, kIsolated)},
          {"along the column, 4th", b.change(4, 0, kIsolated)}};
}

Quantities solve_plus() {
  const Both b =
      WetNodes({{0, 0}, {0, 1}, {0, 2}, {0, -1}, {0, -2}, {1, 0}, {2, 0}, {-1, 0}, {-2, 0}})
          .solved({0, 4.5, true}, {0, 2});
  return {{"centre", b.change(0, 0, kIsolated)},
          {"end of the row", b.change(0, 2, kIsolated)},
          {"end of the column", b.change(2, 0, kIsolated)}};
}

Quantities solve_row_streak() {
  const Both b =
      WetNodes({{0, -2}, {0, -1}, {0, 0}, {0, 1}, {0, 2}}).solved({0, 4.5, true}, {0, 1});
  return {{"middle", b.change(0, 0, kIsolated)},
          {"next", b.change(0, 1, kIsolated)},
          {"next row", b.change(1, 0, kIsolated)}};
}

Quantities solve_compact() {
  const Span span{0, 5.5, true};
  const auto square = [&](double side) {
    field::Scene scene;
    scene.x_lines = scene.y_lines = edges({{0.5 * side, 1}}, 0.1);
    return Both(1.1, Footprint::rectangle({0, 0}, side, side), span, span, {0}, wide(), scene)
        .change(0, 0, kIsolated);
  };
  const Both coin(1.1, Footprint::disc({0, 0}, 24), span, span, {0}, wide());
  field::Scene all;
  all.covered = true;
  const field::PanelSpec spec = field::reference_panel();
  const double whole = solve_object(field::PanelWindow(spec, kQuarter, kQuarter, {}, all), {0})
                           .change(0, 0, kIsolated);
  GlassModel glass = reference_surface(1.1, {14, 12});
  GlassResponse response;
  glass.respond(response, {{Outline::rectangle(120, 130), {27.5, 32.5}, 0.0, 0.0, {}}}, {},
                kConnected);
  return {{"10 mm square", square(10)},
          {"20 mm square", square(20)},
          {"whole panel", {whole, response.change(6, 5)}},
          {"24 mm coin, middle", coin.change(0, 0, kIsolated)},
          {"24 mm coin, edge node of the row", coin.change(0, 2, kIsolated)}};
}

Quantities solve_large() {
  const auto body = [](double width, double height) {
    field::Scene scene;
    scene.x_lines = edges({{0.5 * width, 1}}, 0.1);
    scene.y_lines = edges({{0.5 * height, 1}}, 0.1);
    return Both(1.1, Footprint::rectangle({0, 0}, width, height), {0, 6.5, true}, {0, 6.5, true},
                {0, 3}, wide(), scene);
  };
  const Both square = body(30, 30);
  const Both strip = body(40, 19);
  return {{"30 mm square, C_FF", square.self()},
          {"30 mm square, middle, grounded", square.change(0, 0, INFINITY)},
          {"30 mm square, middle, isolated", square.change(0, 0, kIsolated)},
          {"30 mm square, edge of the row, grounded", square.change(0, 3, INFINITY)},
          {"30 mm square, edge of the row, isolated", square.change(0, 3, kIsolated)},
          {"30 mm square, edge of the column, grounded", square.change(3, 0, INFINITY)},
          {"30 mm square, edge of the column, isolated", square.change(3, 0, kIsolated)},
          {"40 x 19 mm strip, C_FF", strip.self()},
          {"40 x 19 mm strip, middle, grounded", strip.change(0, 0, INFINITY)},
          {"40 x 19 mm strip, middle, isolated", strip.change(0, 0, kIsolated)}};
}

using Solver = std::function<Quantities()>;

const std::vector<std::pair<std::string, Solver>>& solvers() {
  static const std::vector<std::pair<std::string, Solver>> all = [] {
    std::vector<std::pair<std::string, Solver>> out;
    for (const double mm : {0.7, 1.1, 2.0, 3.0})
      out.emplace_back(fmt::format("{:.1f} mm glass", mm), [mm] { return solve_glass(mm); });
    for (const int mm : {6, 8, 10, 12})
      out.emplace_back(fmt::format("{} mm disc on a node", mm), [mm] { return solve_disc(mm); });
    out.emplace_back("beside an 8 mm disc", solve_beside);
    for (const double mm : {0.7, 2.0, 3.0})
      out.emplace_back(fmt::format("8 mm disc on {:.1f} mm glass", mm),
                       [mm] { return solve_disc_on(mm); });
    out.emplace_back("diagonal streak over five nodes, isolated", solve_diagonal);
    out.emplace_back("L with arms of four pitches, isolated", solve_ell);
    out.emplace_back("plus over five nodes, isolated", solve_plus);
    out.emplace_back("row streak over five nodes, isolated", solve_row_streak);
    out.emplace_back("compact patches, isolated", solve_compact);
    out.emplace_back("large bodies", solve_large);
    for (const double mm : {0.7, 1.1, 2.0})
      out.emplace_back(fmt::format("whole-area films on {:.1f} mm glass", mm),
                       [mm] { return solve_films(mm); });
    for (const bool rows : {true, false})
      out.emplace_back(
          fmt::format("strip of wet paper, 19 mm, along the {}", rows ? "rows" : "columns"),
          [rows] { return solve_strip(rows); });
    out.emplace_back("line capacitances", solve_line_capacitances);
    out.emplace_back("water at the bezel, change of the first row", solve_bezel);
    out.emplace_back("line faults, 14 rows and 24 columns", solve_faults);
    return out;
  }();
  return all;
}

}  // namespace

const field::SurfaceModel& reference_model(double cover_mm) {
  static std::map<double, field::SurfaceModel> models;
  const auto found = models.find(cover_mm);
  if (found != models.end()) return found->second;
  return models.emplace(cover_mm, field::SurfaceModel(kernels_of(field::reference_panel(cover_mm))))
      .first->second;
}

GlassModel reference_surface(double cover_mm, field::LineRange lines) {
  return {field::reference_panel(cover_mm), reference_model(cover_mm).kernels(), lines};
}

std::vector<std::string> solvable_groups() {
  std::vector<std::string> out;
  for (const auto& [name, solver] : solvers()) out.push_back(name);
  return out;
}

void solve(ReferenceGroup& group) {
  for (const auto& [name, solver] : solvers()) {
    if (name != group.name) continue;
    const Quantities solved = solver();
    for (ReferenceRow& row : group.rows) {
      const auto found = solved.find(row.key);
      if (found == solved.end())
        throw std::invalid_argument(
            fmt::format("'{}' is no quantity of the group '{}'", row.key, group.name));
      row.full = found->second.full;
      row.fast = found->second.fast;
    }
    return;
  }
  throw std::invalid_argument(fmt::format("'{}' is no group of quantities", group.name));
}

}  // namespace bareglass::panel
