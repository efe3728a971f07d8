#include "thing_kinds.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

// Of things that touch the glass in pieces the share that is one thing (chosen).
constexpr double kInPatches = 0.15;
constexpr double kPi = 3.14159265358979323846;

double normal(double x, double middle, double sigma) {
  const double z = (x - middle) / sigma;
  return std::exp(-0.5 * z * z) / (sigma * std::sqrt(2.0 * kPi));
}

/// Density of a size whose logarithm is spread evenly from `low` to `high`, with soft ends.
double any_size(double x, double low, double high) {
  const double l = std::log(std::max(x, 1e-3));
  const double rise = 1.0 / (1.0 + std::exp(-(l - std::log(low)) / 0.08));
  const double fall = 1.0 / (1.0 + std::exp((l - std::log(high)) / 0.08));
  return rise * fall / (x * std::log(high / low));
}

double soft_step(double x, double at, double width) {
  return 1.0 / (1.0 + std::exp(-(x - at) / width));
}

/// Area of the rectangle that has the second moments of a cover over the area of the cover itself:
/// 1 of a rectangle at any angle, 0.95 of an ellipse, some units of a bent streak; what lies about
/// in pieces has much more.
double scatter_of(const infer::CoverMap& cover) {
  const float least = 0.25f * cover.maxCoeff();  // grey far off says little and weighs much
  double sum = 0, x = 0, y = 0, xx = 0, yy = 0, xy = 0;
  for (Eigen::Index c = 0; c < cover.cols(); ++c)
    for (Eigen::Index r = 0; r < cover.rows(); ++r) {
      if (cover(r, c) < least) continue;
      const auto m = static_cast<double>(cover(r, c));
      const auto dx = static_cast<double>(c), dy = static_cast<double>(r);
      sum += m;
      x += m * dx;
      y += m * dy;
      xx += m * dx * dx;
      yy += m * dy * dy;
      xy += m * dx * dy;
    }
  if (sum <= 0) return 1;
  const double vx = xx / sum - x / sum * (x / sum) + 1.0 / 12;  // of the cell itself
  const double vy = yy / sum - y / sum * (y / sum) + 1.0 / 12;
  const double vxy = xy / sum - x / sum * (y / sum);
  return 12.0 * std::sqrt(std::max(0.0, vx * vy - vxy * vxy)) / sum;
}

}  // namespace

double share_of(const GlassThing& thing, Cause cause) {
  for (const KindShare& k : thing.kinds)
    if (k.cause == cause) return k.share;
  return 0;
}

void settle(std::vector<KindShare>& kinds) {
  double sum = 0;
  for (const KindShare& k : kinds) sum += k.share;
  for (KindShare& k : kinds) k.share /= std::max(1e-300, sum);
  std::sort(kinds.begin(), kinds.end(),
            [](const KindShare& a, const KindShare& b) { return a.share > b.share; });
  while (kinds.size() > 1 && kinds.back().share < 1e-3) kinds.pop_back();
}

ThingShape shape_of(const infer::CoverMap& cover, const infer::CellModel& model,
                    const infer::Block& block, Shape panel) {
  ThingShape s;
  const double cx = model.cell_x_mm();
  const double cy = model.cell_y_mm();
  const float most = cover.maxCoeff();
  const float inside = std::min(0.5f, 0.5f * most);
  double area = 0;
  double mx = 0;
  double my = 0;
  int x0 = 1 << 20, x1 = -1, y0 = 1 << 20, y1 = -1;
  double outline = 0;
  double border = 0;
  const auto at = [&](int y, int x) {
    return y < 0 || x < 0 || y >= cover.rows() || x >= cover.cols() ? 0.f : cover(y, x);
  };
  const int k = infer::CellModel::kCells;
  const bool left = block.column0 == 0, right = block.column1 == panel.cols - 1;
  const bool top = block.row0 == 0, bottom = block.row1 == panel.rows - 1;
  const auto lines = static_cast<int>(cover.rows());
  const auto across = static_cast<int>(cover.cols());
  for (int x = 0; x < across; ++x)
    for (int y = 0; y < lines; ++y) {
      const auto m = static_cast<double>(cover(y, x));
      area += m;
      mx += m * (x + 0.5);
      my += m * (y + 0.5);
      outline += std::abs(static_cast<double>(at(y, x) - at(y, x + 1))) * cy +
                 std::abs(static_cast<double>(at(y, x) - at(y + 1, x))) * cx;
      if (cover(y, x) < inside) continue;
      x0 = std::min(x0, x);
      x1 = std::max(x1, x);
      y0 = std::min(y0, y);
      y1 = std::max(y1, y);
      border += (left && x == 0 ? cy : 0.0) + (right && x == across - 1 ? cy : 0.0) +
                (top && y == 0 ? cx : 0.0) + (bottom && y == lines - 1 ? cx : 0.0);
    }
  if (x1 < 0 || area <= 0) return s;
  s.x_mm = (mx / area) * cx - k * cx / 2.0 + block.column0 * k * cx;
  s.y_mm = (my / area) * cy - k * cy / 2.0 + block.row0 * k * cy;
  area *= cx * cy;
  // The cover is the outline grown by the rim: of a disc as large, and of what is longer than wide
  // by its outline's length.
  const double rim = model.rim_mm();
  const double disc = 2.0 * std::sqrt(area / kPi);
  const double by_outline = area - rim * 0.8 * outline;  // the raster's outline is longer than true
  s.area_mm2 = std::max(
      {0.3 * area, std::min(by_outline, kPi / 4.0 * std::pow(std::max(1.0, disc - 2.0 * rim), 2))});
  s.diameter_mm = 2.0 * std::sqrt(s.area_mm2 / kPi);
  const auto node = [&](int cell, int first) {
    return static_cast<std::uint8_t>(first + cell / k);
  };
  s.box = {node(y0, block.row0), node(y1, block.row0), node(x0, block.column0),
           node(x1, block.column0)};
  s.border_mm = border;
  s.depth_mm = border > 0 ? area / border : 0;
  double filled = 0;
  for (int x = x0; x <= x1; ++x)
    for (int y = y0; y <= y1; ++y) filled += static_cast<double>(std::min(1.f, cover(y, x) / most));
  s.scatter = scatter_of(cover);
  const double cells = (x1 - x0 + 1.0) * (y1 - y0 + 1.0);
  // Of some cells the outline is not seen: closed as far as is known.
  const double known = std::min(1.0, cells / 12.0);
  s.closed = 1.0 - known * (1.0 - filled / cells);
  return s;
}

std::vector<KindShare> kinds_of_body(const ThingShape& s, double to_earth_pf, double self_pf) {
  std::vector<KindShare> out;
  // What of its own capacitance is in all that holds it: an isolated body has nothing else, and one
  // whose way to earth is the larger part acts as an earthed one does.
  const double part =
      std::isinf(to_earth_pf) ? 0.0 : self_pf / std::max(1e-6, self_pf + to_earth_pf);
  const double isolated = std::isinf(to_earth_pf) ? 0.0 : soft_step(part, 0.7, 0.05);
  const double d = std::max(1.0, s.diameter_mm);
  // Fingertips and thumbs leave contacts of some 5 to 15 mm; films, hands and wet patches come in
  // any size beyond (common practice, no source).
  const double finger = 0.5 * normal(d, 9.0, 2.2) + 0.5 * normal(d, 12.0, 2.8);
  const double wide = any_size(d, 13.0, 300.0);
  // Fluid creeps in along the bezel: a few millimetres deep, and longer than that. Of what else
  // lies anywhere some reaches the border, about as long as deep.
  double at_border = 0;
  double by_chance = 1;
  if (s.border_mm > 0) {
    const double stretch = std::log(std::max(0.2, s.border_mm / std::max(1.0, s.depth_mm)));
    by_chance = 0.25 * normal(stretch, 0.3, 0.55);
    at_border = any_size(d, 5.0, 200.0) * any_size(std::exp(stretch), 2.0, 80.0) *
                std::exp(stretch) * 3.0 * std::exp(-std::max(0.0, s.depth_mm - 4.0) / 2.5);
  }
  // An earthed cover that is grey, or about in pieces, explains any faint fall and is no thing that
  // anybody laid there: less than a third of its box (chosen).
  const double dense = soft_step(s.closed, 0.3, 0.06);
  const double earthed = (1.0 - isolated) * dense;
  out.push_back({Cause::touch_at_power_up, earthed * finger * by_chance});
  out.push_back({Cause::grounded_film, earthed * wide * by_chance});
  out.push_back({Cause::wet_bezel, earthed * at_border});
  out.push_back({Cause::unknown_object,
                 (1.0 - isolated) * (1.0 - dense) * ((finger + wide) * by_chance + at_border)});
  // What leaves crossings of its own rows and columns open makes signals there.
  const double open = 1.0 - soft_step(s.closed, 0.5, 0.1);
  // A streak is one piece; bent to half a circle of a radius of four widths it scatters by 3.3
  // (computed).
  const double scattered = soft_step(std::log(std::max(0.1, s.scatter)), std::log(4.5), 0.2);
  // Drops of water stand on glass some millimetres across; larger ones run into puddles (common
  // practice, no source). Notes, coins and puddles come in any size.
  const double drop = normal(d, 8.0, 2.5);
  const double film = any_size(d, 6.0, 300.0);
  // Isolated or earthed is decided by the way to earth alone, so both families weigh as much.
  const double family = (finger + wide) * by_chance + at_border;
  const double one = isolated * (1.0 - scattered) * family;
  out.push_back({Cause::isolated_streak, one * open});
  // A crumpled note or a dressing touches the glass in patches, too, but more seldom.
  const double apart = isolated * scattered * family;
  const double closed = one * (1.0 - open) / (drop + film);
  out.push_back({Cause::drops, closed * drop + (1.0 - kInPatches) * apart});
  out.push_back({Cause::isolated_film, closed * film + kInPatches * apart});
  settle(out);
  return out;
}

std::vector<KindShare> kinds_of_layer(const ThingShape& s, double amount) {
  // Tape, labels and paper are cut straight and thin; what dries on is stronger and smaller. Only
  // wiping tells.
  const double strong = soft_step(std::log(std::max(1e-4, amount)), std::log(0.025), 0.5);
  const double small = soft_step(-std::log(std::max(1.0, s.diameter_mm)), -std::log(32.0), 0.3);
  std::vector<KindShare> out;
  out.push_back({Cause::residue, 0.1 + 0.8 * 0.5 * (strong + small)});
  out.push_back({Cause::dry_film, 1.0 - out[0].share});
  settle(out);
  return out;
}

}  // namespace bareglass::host
