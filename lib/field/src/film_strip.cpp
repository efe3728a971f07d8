#include "bareglass/field/film_strip.hpp"

#include <algorithm>

#include "bareglass/field/solution_store.hpp"

namespace bareglass::field {

namespace {

/// Sets the films' cells beyond the strip to air; with `everywhere` those under it as well.
void clear_films(SparseDomain& volume, double surface_mm, double top_mm, const FilmStrip& strip,
                 bool everywhere) {
  const auto middle = [](const Axis& axis, int i) {
    return 0.5 * (axis.line(i) + axis.line(i + 1));
  };
  for (int k = 0; k + 1 < volume.z.size(); ++k) {
    const double z = middle(volume.z, k);
    if (z < surface_mm || z > top_mm) continue;
    for (int j = 0; j + 1 < volume.y.size(); ++j) {
      for (int i = 0; i + 1 < volume.x.size(); ++i) {
        const double off = strip.along_rows ? middle(volume.y, j) : middle(volume.x, i);
        if (everywhere || off > 0.5 * strip.width_mm)
          volume.permittivity[volume.cell(i, j, k)] = 1.0;
      }
    }
  }
}

void add(SolutionKey& key, const SparseDomain& volume) {
  key.add(volume.x).add(volume.y).add(volume.z);
  for (const double permittivity : volume.permittivity) key.add(permittivity);
  for (const int label : volume.label) key.add(label);
}

}  // namespace

SparseDomain as_volume(const ElectrodeWindow& window) {
  const LayeredDomain& layered = window.solver().domain();
  SparseDomain out;
  out.x = layered.x;
  out.y = layered.y;
  out.z = layered.z;
  out.allocate();
  const int nx = out.x.size();
  const int ny = out.y.size();
  for (int k = 0; k + 1 < out.z.size(); ++k)
    for (int j = 0; j + 1 < ny; ++j)
      for (int i = 0; i + 1 < nx; ++i)
        out.permittivity[out.cell(i, j, k)] = layered.permittivity[static_cast<std::size_t>(k)];
  for (int j = 0; j < ny; ++j) {
    for (int i = 0; i < nx; ++i) {
      out.label[out.node(i, j, 0)] = window.conductor_count();
      if (layered.ground_top)
        out.label[out.node(i, j, out.z.size() - 1)] = window.conductor_count();
      for (std::size_t p = 0; p < layered.planes.size(); ++p)
        out.label[out.node(i, j, layered.planes[p])] =
            window.labels()(i, static_cast<int>(p) * ny + j);
    }
  }
  return out;
}

std::vector<double> strip_changes(const PanelSpec& panel, const FilmStrip& strip, int last_line,
                                  const Mesh& mesh) {
  // Nothing changes along a strip along the rows but the columns' pattern: half a pitch is enough
  // there. Along the columns the driven row's neighbours must be told apart: two and a half.
  const Span across_strip{0.0, last_line + 1.5, true};
  const Span columns = strip.along_rows ? Span{0.0, 0.5, true} : across_strip;
  const Span rows = strip.along_rows ? across_strip : Span{0.0, 2.5, true};
  Scene scene;
  scene.films = strip.films;
  (strip.along_rows ? scene.y_lines : scene.x_lines) = {{0.5 * strip.width_mm, mesh.edge_mm}};
  const PanelWindow window(panel, columns, rows, mesh, scene);

  double top = panel.total_thickness();
  for (const Layer& film : strip.films) top += film.thickness_mm;
  SparseDomain covered = as_volume(window);
  SparseDomain bare = covered;
  clear_films(covered, panel.total_thickness(), top, strip, false);
  clear_films(bare, panel.total_thickness(), top, strip, true);

  SolutionKey key("film strip");
  add(key, covered);
  add(key, bare);
  key.add(strip.along_rows).add(last_line);
  return kept_or_solved(key, [&] {
    const SparseSolver with(std::move(covered));
    const SparseSolver without(std::move(bare));
    std::vector<double> out;
    const auto drive = [&](int row) {
      Eigen::VectorXd volts = Eigen::VectorXd::Zero(window.conductor_count() + 1);
      volts(window.row_id(row)) = 1.0;
      // A film's effect is a ten-thousandth of the whole, and only the difference counts.
      constexpr double kTolerance = 1e-9;
      const SparseSolution before = without.solve(volts, kTolerance);
      const SparseSolution after = with.solve(volts, kTolerance, before.potential);
      constexpr double kCopies = 4.0;
      for (int c = 0; c < window.column_count(); ++c) {
        const int id = window.column_id(window.first_column() + c);
        const double change = before.conductor(id) - after.conductor(id);
        out.push_back(kCopies * change / (window.twins(id) * window.twins(window.row_id(row))));
      }
    };
    if (!strip.along_rows) {
      drive(0);
      out.resize(static_cast<std::size_t>(last_line) + 1);
    } else {
      for (int row = 0; row <= last_line; ++row) drive(row);
    }
    return out;
  });
}

}  // namespace bareglass::field
