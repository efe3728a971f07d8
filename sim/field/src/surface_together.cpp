// Objects that lie near each other: their charges feel each other's potential.
//
// With S0 the inverse of each object's own potentials, side by side, and P the potentials between
// objects, the charge of all at potentials V is
//   S V = S0 V - S0 P S0 V + S0 P S0 P S0 V - ..
// and all that is wanted has the form L' S V. With Q = S0 L and X = S0 V, and X taken through n
// rounds of X <- S0 V - S0 P X, L' S V = L' S0 V - Q' P X is right to order n + 1 in P.
#include <algorithm>
#include <cmath>

#include "bareglass/field/surface_model.hpp"
#include "line_block.hpp"
#include "spot_response.hpp"

namespace bareglass::field {

namespace {

/// Rounds before the last one. At 0.5 mm between two 8 mm discs: see sim/panel/DESIGN.md.
constexpr int kRounds = 1;

Box moved(const Box& b, Point by) {
  return {b.x_low + by.x, b.x_high + by.x, b.y_low + by.y, b.y_high + by.y};
}

double gap_of(const Box& a, const Box& b) {
  const double x = std::max({0.0, a.x_low - b.x_high, b.x_low - a.x_high});
  const double y = std::max({0.0, a.y_low - b.y_high, b.y_low - a.y_high});
  return std::sqrt(x * x + y * y);
}

Box box_of(const PlacedObject& placed) {
  return moved(placed.object->footprint().bounds(), placed.place);
}

}  // namespace

Eigen::MatrixXf SurfaceModel::potentials_between(const PlacedObject& a,
                                                 const PlacedObject& b) const {
  if (gap_of(box_of(a), box_of(b)) > kFeltApart) return {};
  const double step = 0.5 * (a.object->step_mm() + b.object->step_mm());
  const auto& first = a.object->patches();
  const auto& second = b.object->patches();
  Eigen::MatrixXf out(static_cast<Eigen::Index>(first.size()),
                      static_cast<Eigen::Index>(second.size()));
  for (std::size_t j = 0; j < second.size(); ++j) {
    const double x = second[j].centre.x + b.place.x - a.place.x;
    const double y = second[j].centre.y + b.place.y - a.place.y;
    for (std::size_t i = 0; i < first.size(); ++i)
      out(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) =
          static_cast<float>(spot_->across(x - first[i].centre.x, y - first[i].centre.y, step));
  }
  return out;
}

std::vector<Coupling> SurfaceModel::couple_together(Eigen::MatrixXd& between,
                                                    const std::vector<PlacedObject>& objects,
                                                    const LineRange& lines) const {
  Box all = box_of(objects.front());
  for (const PlacedObject& o : objects) {
    const Box b = box_of(o);
    all = {std::min(all.x_low, b.x_low), std::max(all.x_high, b.x_high),
           std::min(all.y_low, b.y_low), std::max(all.y_high, b.y_high)};
  }
  const Coupling block = block_around(kernels_, all, lines);
  const Eigen::Index rows = block.to_row.size();
  const Eigen::Index columns = block.to_column.size();
  const auto count = static_cast<Eigen::Index>(objects.size());
  const auto at = [](Eigen::Index k) { return static_cast<std::size_t>(k); };

  // Potentials from the left (rows, then 1 V on each object) and from the right (columns, then the
  // same), and the charges they make on each object by itself.
  std::vector<Eigen::MatrixXf> left_charge(at(count));
  std::vector<Eigen::MatrixXf> right_charge(at(count));
  Eigen::MatrixXf sum = Eigen::MatrixXf::Zero(rows + count, columns + count);
  for (Eigen::Index k = 0; k < count; ++k) {
    const PatchedObject& object = *objects[at(k)].object;
    // By itself an object is felt by the lines near it alone.
    const Coupling own = block_around(kernels_, box_of(objects[at(k)]), lines);
    const Eigen::Index row = own.first_row - block.first_row;
    const Eigen::Index column = own.first_column - block.first_column;
    const Eigen::Index own_rows = own.to_row.size();
    const Eigen::Index own_columns = own.to_column.size();
    Eigen::MatrixXf volts = bare_volts(object, objects[at(k)].place, own);
    volts.leftCols(own_rows) *= static_cast<float>(row_scale_);
    volts.rightCols(own_columns) *= static_cast<float>(column_scale_);
    const Eigen::MatrixXf charge = held(object, volts);
    left_charge[at(k)] = Eigen::MatrixXf::Zero(charge.rows(), rows + count);
    left_charge[at(k)].middleCols(row, own_rows) = charge.leftCols(own_rows);
    left_charge[at(k)].col(rows + k) = object.unit_;
    right_charge[at(k)] = Eigen::MatrixXf::Zero(charge.rows(), columns + count);
    right_charge[at(k)].middleCols(column, own_columns) = charge.rightCols(own_columns);
    right_charge[at(k)].col(columns + k) = object.unit_;
    sum.block(row, column, own_rows, own_columns) +=
        volts.leftCols(own_rows).transpose() * charge.rightCols(own_columns);
    sum.col(columns + k).segment(row, own_rows) +=
        volts.leftCols(own_rows).transpose() * object.unit_;
    sum.row(rows + k).segment(column, own_columns) +=
        object.unit_.transpose() * volts.rightCols(own_columns);
    sum(rows + k, columns + k) += static_cast<float>(object.self());
  }

  std::vector<Eigen::MatrixXf> potential(at(count * count));
  for (Eigen::Index a = 0; a < count; ++a)
    for (Eigen::Index b = a + 1; b < count; ++b)
      potential[at(a * count + b)] = potentials_between(objects[at(a)], objects[at(b)]);
  const auto made_by_others = [&](Eigen::Index k, const std::vector<Eigen::MatrixXf>& charge) {
    Eigen::MatrixXf out = Eigen::MatrixXf::Zero(charge[at(k)].rows(), charge[at(k)].cols());
    for (Eigen::Index j = 0; j < count; ++j) {
      if (j == k) continue;
      const Eigen::MatrixXf& p = potential[at(std::min(j, k) * count + std::max(j, k))];
      if (p.size() == 0) continue;
      if (k < j)
        out.noalias() += p * charge[at(j)];
      else
        out.noalias() += p.transpose() * charge[at(j)];
    }
    return out;
  };
  std::vector<Eigen::MatrixXf> charge = right_charge;
  for (int round = 0; round < kRounds; ++round) {
    std::vector<Eigen::MatrixXf> next;
    for (Eigen::Index k = 0; k < count; ++k)
      next.push_back(right_charge[at(k)] - held(*objects[at(k)].object, made_by_others(k, charge)));
    charge = std::move(next);
  }
  for (Eigen::Index k = 0; k < count; ++k)
    sum -= left_charge[at(k)].transpose() * made_by_others(k, charge);

  std::vector<Coupling> out(at(count), block);
  out.front().loss = sum.topLeftCorner(rows, columns).cast<double>();
  between = -sum.bottomRightCorner(count, count).cast<double>();
  between = (0.5 * (between + between.transpose())).eval();
  for (Eigen::Index k = 0; k < count; ++k) {
    out[at(k)].to_row = sum.col(columns + k).head(rows).cast<double>();
    out[at(k)].to_column = sum.row(rows + k).head(columns).transpose().cast<double>();
    out[at(k)].self = -between(k, k);
    between(k, k) = 0.0;
  }
  return out;
}

}  // namespace bareglass::field
