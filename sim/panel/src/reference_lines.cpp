// The reference table's films, lines and bezel.
#include <array>
#include <cmath>

#include "bareglass/field/film_strip.hpp"
#include "bareglass/panel/simulated_panel.hpp"
#include "reference_solve.hpp"

namespace bareglass::panel {

namespace {

using Kind = LineFault::Kind;

constexpr int kRows = 14;
constexpr int kColumns = 24;

/// Change under films over the whole glass, on one mesh with them and with air in their place.
double full_film(const field::PanelSpec& spec, std::vector<field::Layer> films) {
  field::Mesh mesh;
  mesh.edge_mm = 0.06;
  mesh.bulk_mm = 0.5;
  mesh.growth = 0.25;
  field::Scene scene;
  scene.films = films;
  const double with = field::solve_node(spec, mesh, scene);
  for (field::Layer& film : scene.films) film.permittivity = 1.0;
  return with - field::solve_node(spec, mesh, scene);
}

/// Raw changes of the simulated lines alone, in per cent of a node that has settled as far, of the
/// panel that the table describes.
NodeMatrix percent_with(const LineSpec& lines, const LineFault& fault) {
  LineSpec held = lines;  // rows that float ride along and add to the bare reading
  held.idle = IdleRows::low;
  const field::PanelSpec spec = field::reference_panel();
  const field::PanelNumbers& numbers = reference_model(1.1).kernels().numbers;
  const NodeMatrix bare = NodeMatrix::Constant(kRows, kColumns, numbers.node);
  NodeMatrix node = bare;
  NodeMatrix before = bare;
  NodeMatrix after = bare;
  LineResponse(held, spec, numbers, {kRows, kColumns}, {}).apply(node, bare);
  LineResponse(lines, spec, numbers, {kRows, kColumns}, {}).apply(before, bare);
  LineResponse(lines, spec, numbers, {kRows, kColumns}, {fault}).apply(after, bare);
  return (100.0 * (after.array() - before.array()) / node.array()).matrix();
}

LineFault fault(Kind kind, bool of_rows, int first, int last, int at = 1, double ohm = 0.0) {
  return {kind, of_rows, first, last, at, ohm, 0.0, 0.0};
}

Quantity simulated(double value) { return {std::nan(""), value}; }

}  // namespace

Quantities solve_films(double cover_mm) {
  const struct {
    const char* name;
    double um;
    double permittivity;
  } films[] = {{"tape 50 um", 50, 3.0},
               {"tape 100 um", 100, 3.0},
               {"laminated label 500 um", 500, 3.0},
               {"dry paper 100 um", 100, 3.0},
               {"damp paper 100 um", 100, 8.0},
               {"wet paper 100 um", 100, 20.0},
               {"isopropyl alcohol 50 um", 50, 19.0},
               {"isopropyl alcohol 200 um", 200, 19.0},
               {"water 50 um", 50, 78.4},
               {"water 200 um", 200, 78.4},
               {"water 500 um", 500, 78.4}};
  const field::PanelSpec spec = field::reference_panel(cover_mm);
  GlassModel glass = reference_surface(cover_mm, {kRows, kColumns});
  Quantities out;
  for (const auto& film : films)
    out[film.name] = {full_film(spec, {{"film", film.um * 1e-3, film.permittivity}}),
                      glass.film_change(film.um, film.permittivity)};
  out["tape 100 um over 200 um of air"] = {
      full_film(spec, {{"tape", 0.1, 3.0}, {"air", 0.2, 1.0}})};
  return out;
}

Quantities solve_strip(bool along_rows) {
  field::Mesh mesh;
  mesh.edge_mm = 0.09;
  mesh.bulk_mm = 0.6;
  mesh.growth = 0.35;
  const std::vector<double> full = field::strip_changes(
      field::reference_panel(), {{{"wet paper", 0.1, 20.0}}, 19.0, along_rows}, 3, mesh);
  GlassModel glass = reference_surface(1.1, {kRows, kColumns});
  GlassResponse response;
  constexpr int kMiddle = 7;
  constexpr double kPitch = 5.0;
  const Film strip{along_rows ? Outline::rectangle(200.0, 19.0) : Outline::rectangle(19.0, 200.0),
                   {kMiddle * kPitch, kMiddle * kPitch},
                   100.0,
                   20.0};
  glass.respond(response, {}, {strip}, kConnected);
  const auto fast = [&](int line) {
    return along_rows ? response.change(kMiddle + line, kMiddle)
                      : response.change(kMiddle, kMiddle + line);
  };
  return {{"line in the middle", {full[0], fast(0)}},
          {"last line under it, part of the middle", {full[1] / full[0], fast(1) / fast(0)}},
          {"first line outside, part", {full[2] / full[0], fast(2) / fast(0)}},
          {"second line outside, part", {full[3] / full[0], fast(3) / fast(0)}}};
}

Quantities solve_line_capacitances() {
  const field::PanelNumbers n = field::solve_numbers(field::reference_panel());
  return {{"row of 24 columns", {kColumns * n.row_self * 1e-3}},
          {"column of 14 rows", {kRows * n.column_self * 1e-3}}};
}

Quantities solve_bezel() {
  field::Mesh mesh;
  mesh.object_mm = 0.1;
  const field::PanelSpec spec = field::reference_panel();
  // Water over half of the panel, its edge along the middle of row 0.
  field::Scene scene;
  scene.object = field::Footprint::rectangle({0, -100}, 400, 200);
  const field::ObjectSolution half = field::solve_object(
      field::PanelWindow(spec, {0, 3.5, true}, {-3.5, 3.5, false}, mesh, scene), {0});
  const auto percent = [&](double to_ground) {
    return 100.0 * half.change(0, 0, to_ground) / half.bare(-half.first_row, -half.first_column);
  };
  const field::PanelNumbers numbers = field::solve_numbers(spec);

  GlassModel glass = reference_surface(1.1, {kRows, 12});
  const auto band = [&](double edge_mm, double device_pf) {
    GlassResponse response;
    glass.respond(response,
                  {{Outline::rectangle(90, 10), {27.5, edge_mm - 5.0}, 0.0, device_pf, {}}}, {},
                  kConnected);
    return 100.0 * response.change(0, 5) / glass.numbers().node;
  };
  field::Scene strip;
  strip.object = field::Footprint::rectangle({0, 0}, 400, 10);
  field::Mesh plain;
  const field::ObjectSolution floating = field::solve_object(
      field::PanelWindow(spec, {0, 3.5, true}, {0, 3.5, true}, plain, strip), {0});
  return {{"covered, earthed", {-100.0 * numbers.full_loss / numbers.node, band(5.0, kConnected)}},
          {"half covered, earthed", {percent(INFINITY), band(0.0, kConnected)}},
          {"covered, floating",
           {100.0 * floating.change(0, 0, 0.0) / floating.bare(0, 0), band(5.0, 0.0)}}};
}

Quantities solve_faults() {
  LineSpec lines;
  const NodeMatrix cut = percent_with(lines, fault(Kind::cut, true, 6, 6, 12));
  const NodeMatrix row = percent_with(lines, fault(Kind::open_tail, true, 6, 6));
  const NodeMatrix column = percent_with(lines, fault(Kind::open_tail, false, 9, 9));
  LineSpec floating = lines;
  floating.idle = IdleRows::floating;
  LineSpec single = lines;
  single.amplifiers = Amplifiers::one_at_a_time;
  const LineFault bridge = fault(Kind::bridged, true, 6, 7);
  Quantities out{
      {"row cut, near part", simulated(cut(6, 5))},
      {"row cut, far part", simulated(cut(6, 18))},
      {"row cut, far half of the rows beside", simulated(cut(5, 18))},
      {"row cut, next row", simulated(cut(4, 18))},
      {"row tail open", simulated(row(6, 12))},
      {"row tail open, neighbours", simulated(row(5, 12))},
      {"column tail open", simulated(column(6, 9))},
      {"two rows bridged, idle one low", simulated(percent_with(lines, bridge)(6, 12))},
      {"two rows bridged, idle rows floating", simulated(percent_with(floating, bridge)(6, 12))},
      {"two columns bridged, one amplifier at a time",
       simulated(percent_with(single, fault(Kind::bridged, false, 9, 10))(6, 9))}};
  for (const int kohm : {10, 20, 50}) {
    const std::string name = " tail + " + std::to_string(kohm) + " kohm";
    out["row" + name] = simulated(
        percent_with(lines, fault(Kind::raised_resistance, true, 6, 6, 1, kohm * 1e3))(6, 0));
    out["column" + name] = simulated(percent_with(
        lines, fault(Kind::raised_resistance, false, 6, 6, 1, kohm * 1e3))(kRows - 1, 6));
  }
  return out;
}

}  // namespace bareglass::panel
