// Objects that lie near each other or overlap, solved together.
//
// With S the inverse of each object's own potentials, side by side, and P the potentials between
// objects, the charge q at potentials V obeys q = S (V - P q). P is smooth, so between any two
// objects it is a product of two thin matrices; with W the thin matrices of an object side by side,
// y = W' q and x the same with the two partners of each product exchanged (y = E x), what an object
// feels of the others is W x, and
//   q = S V - S W x,   (E + W' S W) x = W' S V,   L' q = L' S V - (W' S L)' x,
// a small system that holds whatever the distance.
//
// Objects that are one conductor may overlap. The larger one has the ground that they share:
// squares at its edge count as wholly covered where the other goes on, and the smaller one's
// squares as far as they lie outside it. Both are changes of the diagonal of an object's
// potentials, few enough to be put right in its inverse (Woodbury's identity).
#include <algorithm>
#include <cmath>

#include "bareglass/field/surface_model.hpp"
#include "company_member.hpp"
#include "line_block.hpp"
#include "line_relief.hpp"
#include "spot_response.hpp"
#include "squares.hpp"

namespace bareglass::field {

namespace {

/// What the thin product of the potentials between two objects may miss on average, as part of the
/// potential kUsual mm away from a square: touching things' squares are that far apart on average.
constexpr double kMissed = 1e-2;
constexpr double kUsual = 2.5;

Box moved(const Box& b, Point by) {
  return {b.x_low + by.x, b.x_high + by.x, b.y_low + by.y, b.y_high + by.y};
}

double square(double v) { return v * v; }

double gap_of(const Box& a, const Box& b) {
  const double x = std::max({0.0, a.x_low - b.x_high, b.x_low - a.x_high});
  const double y = std::max({0.0, a.y_low - b.y_high, b.y_low - a.y_high});
  return std::sqrt(square(x) + square(y));
}

Box box_of(const PlacedObject& placed) {
  return moved(placed.object->footprint().bounds(), placed.place);
}

std::size_t at(Eigen::Index k) { return static_cast<std::size_t>(k); }

/// Two members that feel each other, and where their product's columns begin in each one's W.
struct Bond {
  std::size_t a;
  std::size_t b;
  Eigen::Index in_a;
  Eigen::Index in_b;
  Eigen::Index rank;
};

}  // namespace

/// Solves one company, once.
class CompanySolver {
 public:
  CompanySolver(const SurfaceModel& model, const std::vector<PlacedObject>& objects,
                const LineRange& lines);
  std::vector<Coupling> solve(Eigen::MatrixXd& between);

 private:
  void find_block();
  void uncover();
  void uncover(Member& member, std::size_t place);
  void take_cores();
  void take_core(Member& from, const Member& of) const;
  void bond(std::size_t a, std::size_t b);
  LowRank potentials(const Member& a, const Member& b) const;
  void charge(Member& member);
  void add_own(Eigen::MatrixXd& sum) const;
  void add_others(Eigen::MatrixXd& sum) const;

  const SurfaceModel& model_;
  LineRange lines_;
  std::vector<Member> members_;  ///< from the largest to the smallest
  std::vector<Bond> bonds_;
  Coupling block_;  ///< all lines that feel any of them
  Eigen::Index conductors_ = 0;
};

CompanySolver::CompanySolver(const SurfaceModel& model, const std::vector<PlacedObject>& objects,
                             const LineRange& lines)
    : model_(model), lines_(lines) {
  for (const PlacedObject& placed : objects) {
    Member& m = members_.emplace_back();
    m.placed = placed;
    m.model = placed.model != nullptr ? placed.model : &model_;
    m.box = box_of(placed);
    conductors_ = std::max<Eigen::Index>(conductors_, placed.conductor + 1);
  }
  std::stable_sort(members_.begin(), members_.end(), [](const Member& a, const Member& b) {
    return a.placed.object->squares() > b.placed.object->squares();
  });
  find_block();
  uncover();
  take_cores();
  for (std::size_t a = 0; a < members_.size(); ++a)
    for (std::size_t b = a + 1; b < members_.size(); ++b) bond(a, b);
  for (Member& m : members_) charge(m);
}

void CompanySolver::find_block() {
  Box all = members_.front().box;
  for (const Member& m : members_)
    all = {std::min(all.x_low, m.box.x_low), std::max(all.x_high, m.box.x_high),
           std::min(all.y_low, m.box.y_low), std::max(all.y_high, m.box.y_high)};
  block_ = block_around(model_.kernels_, all, lines_);
}

void CompanySolver::uncover() {
  for (std::size_t k = 0; k < members_.size(); ++k) {
    Member& m = members_[k];
    uncover(m, k);
    m.block = block_around(model_.kernels_, m.box, lines_);
    m.on = m.model->sources(*m.placed.object, m.placed.place, m.block);
    m.thin.resize(m.on.row_volts.rows(), 0);
  }
}

// Finds what other parts of the same conductor do to the squares of member number `place`.
void CompanySolver::uncover(Member& member, std::size_t place) {
  const PatchedObject& object = *member.placed.object;
  const double step = object.step_mm();
  const double own = member.model->spot_->own(step);
  std::vector<std::size_t> beside;
  for (std::size_t k = 0; k < members_.size(); ++k)
    if (k != place && members_[k].placed.conductor == member.placed.conductor &&
        gap_of(members_[k].box, member.box) < step)
      beside.push_back(k);
  for (Eigen::Index n = 0; n < static_cast<Eigen::Index>(object.patches().size()); ++n) {
    const PatchedObject::Patch& patch = object.patches()[at(n)];
    double covered = patch.coverage;
    double taken = 0.0;
    for (const std::size_t k : beside) {
      const PlacedObject& other = members_[k].placed;
      const double part =
          covered_part(other.object->footprint().distance(
                           {patch.centre.x + member.placed.place.x - other.place.x,
                            patch.centre.y + member.placed.place.y - other.place.y}),
                       step);
      if (k < place) taken = std::max(taken, part);
      // A square of which less than half is the object's own edge leaves the rest to the other.
      if (patch.coverage >= 0.5) covered = std::max(covered, part);
    }
    covered *= 1.0 - taken;
    const bool hidden = covered < kSliver;
    if (!hidden) member.live.push_back(n);
    if (covered == patch.coverage) continue;
    member.changed.push_back(n);
    member.softness.push_back(
        hidden ? 0.0f : static_cast<float>(1.0 / (own * (1.0 / covered - 1.0 / patch.coverage))));
  }
}

// Every member feels the charge on the cores of the large ones as it feels that of lines.
void CompanySolver::take_cores() {
  for (Member& m : members_)
    for (const Member& other : members_)
      if (&m != &other && other.placed.object->graded() &&
          gap_of(m.box, other.box) <= SurfaceModel::kFeltApart)
        take_core(m, other);
}

void CompanySolver::take_core(Member& from, const Member& of) const {
  const PatchedObject& object = *from.placed.object;
  const PatchedObject& large = *of.placed.object;
  const auto patches = static_cast<Eigen::Index>(object.patches().size());
  const auto cells = static_cast<Eigen::Index>(large.cells_.size());
  const auto step = [](const PatchedObject::Patch& p, const PatchedObject& o) {
    return p.size * o.step_mm();
  };
  Eigen::MatrixXf volts(patches, cells);
  for (Eigen::Index c = 0; c < cells; ++c) {
    const PatchedObject::Patch& cell = large.cells_[at(c)];
    const Point q{cell.centre.x + of.placed.place.x, cell.centre.y + of.placed.place.y};
    for (Eigen::Index n = 0; n < patches; ++n) {
      const PatchedObject::Patch& patch = object.patches()[at(n)];
      const Point p{patch.centre.x + from.placed.place.x, patch.centre.y + from.placed.place.y};
      const double side = 0.5 * (step(patch, object) + step(cell, large));
      double made = from.model->between(p, q, side);
      if (from.model != of.model) made = 0.5 * (made + of.model->between(p, q, side));
      volts(n, c) = static_cast<float>(made);
    }
  }
  // Lines that only one of the two feels are too far off to matter.
  const auto take = [&](Eigen::MatrixXf& lines, int first, const Eigen::MatrixXf& core,
                        int core_first) {
    const Eigen::Index begin = std::max(first, core_first);
    const Eigen::Index end = std::min(first + lines.cols(), core_first + core.cols());
    if (begin < end)
      lines.middleCols(begin - first, end - begin).noalias() -=
          volts * core.middleCols(begin - core_first, end - begin);
  };
  take(from.on.row_volts, from.block.first_row, of.on.row_sharp, of.block.first_row);
  take(from.on.column_volts, from.block.first_column, of.on.column_sharp, of.block.first_column);
}

void CompanySolver::bond(std::size_t a, std::size_t b) {
  Member& first = members_[a];
  Member& second = members_[b];
  if (first.live.empty() || second.live.empty() ||
      gap_of(first.box, second.box) > SurfaceModel::kFeltApart)
    return;
  const LowRank product = potentials(first, second);
  const Eigen::Index rank = product.left.cols();
  bonds_.push_back({a, b, first.thin.cols(), second.thin.cols(), rank});
  // Squares without charge need no potential.
  const auto widen = [rank](Member& m, const Eigen::MatrixXf& part) {
    m.thin.conservativeResize(Eigen::NoChange, m.thin.cols() + rank);
    m.thin.rightCols(rank).setZero();
    for (std::size_t n = 0; n < m.live.size(); ++n)
      m.thin.rightCols(rank).row(m.live[n]) = part.row(static_cast<Eigen::Index>(n));
  };
  widen(first, product.left);
  widen(second, product.right);
}

LowRank CompanySolver::potentials(const Member& a, const Member& b) const {
  const double step = 0.5 * (a.placed.object->step_mm() + b.placed.object->step_mm());
  const std::vector<Point> first = live_places(a);
  const std::vector<Point> second = live_places(b);
  // The relief's waves stand at the middle of two places, whose phase is the sum of their halves.
  const LineRelief& relief = *a.model->relief_;
  const std::vector<LineRelief::Wave>& waves = relief.waves();
  const auto halves = [](const std::vector<Point>& places, const LineRelief::Wave& wave) {
    std::vector<std::pair<double, double>> out;
    for (const Point& p : places) {
      const double half = 0.5 * wave.k * (wave.along_x ? p.x : p.y);
      out.emplace_back(std::cos(half), std::sin(half));
    }
    return out;
  };
  std::vector<std::vector<std::pair<double, double>>> of_first;
  std::vector<std::vector<std::pair<double, double>>> of_second;
  for (const LineRelief::Wave& wave : waves) {
    of_first.push_back(halves(first, wave));
    of_second.push_back(halves(second, wave));
  }
  const auto potential = [&](const EntryPlace& e) {
    const Point p = first[at(e.row)];
    const Point q = second[at(e.column)];
    double volts = a.model->spot_->across(p.x - q.x, p.y - q.y, step);
    if (a.model != b.model)
      volts = 0.5 * (volts + b.model->spot_->across(p.x - q.x, p.y - q.y, step));
    for (std::size_t w = 0; w < waves.size(); ++w) {
      const double part = relief.between(w, p.x - q.x, p.y - q.y);
      if (part == 0.0) continue;
      const auto& i = of_first[w][at(e.row)];
      const auto& j = of_second[w][at(e.column)];
      volts -= part * (i.first * j.first - i.second * j.second);
    }
    return static_cast<float>(volts);
  };
  const double usual = a.model->spot_->across(kUsual, 0.0, step);
  const double size = std::sqrt(static_cast<double>(first.size() * second.size()));
  CrossApproximation cross(static_cast<Eigen::Index>(first.size()),
                           static_cast<Eigen::Index>(second.size()),
                           static_cast<float>(kMissed * usual * size));
  return cross.run(contacts(a, b), potential);
}

void CompanySolver::charge(Member& m) {
  const PatchedObject& object = *m.placed.object;
  const Eigen::Index columns = m.on.column_volts.cols();
  Eigen::MatrixXf volts(m.thin.rows(), columns + m.thin.cols() + 1);
  volts.leftCols(columns) = m.on.column_volts;
  volts.middleCols(columns, m.thin.cols()) = m.thin;
  volts.rightCols(1).setOnes();
  m.charge = m.model->held(object, m.placed.place, volts);
  const auto changed = static_cast<Eigen::Index>(m.changed.size());
  if (changed == 0) return;
  Eigen::MatrixXf beside(volts.rows(), changed);  // of the object's own inverse
  beside.setZero();
  for (Eigen::Index k = 0; k < changed; ++k) beside(m.changed[at(k)], k) = 1.0f;
  beside = m.model->held(object, m.placed.place, beside);
  Eigen::MatrixXf middle(changed, changed);
  Eigen::MatrixXf before(changed, m.charge.cols());
  for (Eigen::Index k = 0; k < changed; ++k) {
    middle.row(k) = beside.row(m.changed[at(k)]);
    middle(k, k) += m.softness[at(k)];
    before.row(k) = m.charge.row(m.changed[at(k)]);
  }
  m.charge.noalias() -= beside * middle.partialPivLu().solve(before);
}

// L' S V, each object by itself.
void CompanySolver::add_own(Eigen::MatrixXd& sum) const {
  const Eigen::Index rows = block_.to_row.size();
  const Eigen::Index columns = block_.to_column.size();
  for (const Member& m : members_) {
    const Eigen::Index row = m.block.first_row - block_.first_row;
    const Eigen::Index column = m.block.first_column - block_.first_column;
    const Eigen::Index c = m.placed.conductor;
    sum.block(row, column, m.on.row_volts.cols(), m.on.column_volts.cols()) +=
        (m.on.row_volts.transpose() * m.column_charge()).cast<double>();
    if (m.placed.object->graded()) {
      sum.block(row, column, m.on.row_volts.cols(), m.on.column_volts.cols()) +=
          m.model->core_loss(*m.placed.object, m.placed.place, m.block, m.on).cast<double>();
      sum.col(columns + c).segment(row, m.on.row_volts.cols()) +=
          m.on.row_core.colwise().sum().transpose().cast<double>();
      sum.row(rows + c).segment(column, m.on.column_volts.cols()) +=
          m.on.column_core.colwise().sum().cast<double>();
    }
    sum.col(columns + c).segment(row, m.on.row_volts.cols()) +=
        (m.on.row_volts.transpose() * m.unit_charge()).cast<double>();
    sum.row(rows + c).segment(column, m.on.column_volts.cols()) +=
        m.column_charge().colwise().sum().cast<double>();
    sum(rows + c, columns + c) += static_cast<double>(m.unit_charge().sum());
  }
}

void CompanySolver::add_others(Eigen::MatrixXd& sum) const {
  const Eigen::Index rows = block_.to_row.size();
  const Eigen::Index columns = block_.to_column.size();
  Eigen::Index places = 0;
  for (const Member& m : members_) places = std::max(places, m.first + m.thin.cols());
  Eigen::MatrixXf system = Eigen::MatrixXf::Zero(places, places);
  Eigen::MatrixXf left = Eigen::MatrixXf::Zero(places, rows + conductors_);
  Eigen::MatrixXf right = Eigen::MatrixXf::Zero(places, columns + conductors_);
  for (const Member& m : members_) {
    const Eigen::Index size = m.thin.cols();
    const Eigen::MatrixXf from = m.thin_charge();
    system.block(m.first, m.first, size, size) = m.thin.transpose() * from;
    left.block(m.first, m.block.first_row - block_.first_row, size, m.on.row_volts.cols()) =
        from.transpose() * m.on.row_volts;
    right.block(m.first, m.block.first_column - block_.first_column, size,
                m.on.column_volts.cols()) = from.transpose() * m.on.column_volts;
    const Eigen::VectorXf unit = from.colwise().sum();
    left.col(rows + m.placed.conductor).segment(m.first, size) = unit;
    right.col(columns + m.placed.conductor).segment(m.first, size) = unit;
  }
  for (const Bond& b : bonds_) {
    const Eigen::Index i = members_[b.a].first + b.in_a;
    const Eigen::Index j = members_[b.b].first + b.in_b;
    system.block(i, j, b.rank, b.rank).diagonal().array() += 1.0f;
    system.block(j, i, b.rank, b.rank).diagonal().array() += 1.0f;
  }
  sum -= (left.transpose() * system.partialPivLu().solve(right)).cast<double>();
}

std::vector<Coupling> CompanySolver::solve(Eigen::MatrixXd& between) {
  const Eigen::Index rows = block_.to_row.size();
  const Eigen::Index columns = block_.to_column.size();
  Eigen::Index first = 0;
  for (Member& m : members_) {
    m.first = first;
    first += m.thin.cols();
  }
  Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(rows + conductors_, columns + conductors_);
  add_own(sum);
  if (first > 0) add_others(sum);

  std::vector<Coupling> out(at(conductors_), block_);
  out.front().loss = model_.loss_scale_ * sum.topLeftCorner(rows, columns);
  between = -sum.bottomRightCorner(conductors_, conductors_);
  between = (0.5 * (between + between.transpose())).eval();
  for (Eigen::Index k = 0; k < conductors_; ++k) {
    out[at(k)].to_row = sum.col(columns + k).head(rows);
    out[at(k)].to_column = sum.row(rows + k).head(columns).transpose();
    out[at(k)].self = -between(k, k);
    between(k, k) = 0.0;
  }
  return out;
}

std::vector<Coupling> SurfaceModel::couple_together(Eigen::MatrixXd& between,
                                                    const std::vector<PlacedObject>& objects,
                                                    const LineRange& lines) const {
  return CompanySolver(*this, objects, lines).solve(between);
}

}  // namespace bareglass::field
