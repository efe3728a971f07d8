#include "low_rank.hpp"

#include <cmath>

namespace bareglass::field {

namespace {

constexpr Eigen::Index kAtOnce = 16;  ///< columns of the product that room is made for

/// One step may add little by chance: the next one is taken far from all others.
constexpr int kSmallSteps = 2;

}  // namespace

CrossApproximation::CrossApproximation(Eigen::Index rows, Eigen::Index columns, float tolerance)
    : left_(rows, kAtOnce),
      right_(columns, kAtOnce),
      row_(columns),
      column_(rows),
      taken_(static_cast<std::size_t>(rows), false),
      tolerance_(tolerance) {}

Eigen::Index CrossApproximation::begin(const std::vector<EntryPlace>& probes,
                                       const std::vector<float>& known) {
  Eigen::Index row = -1;
  for (std::size_t k = 0; k < probes.size(); ++k) {
    if (std::abs(known[k]) <= largest_) continue;
    largest_ = std::abs(known[k]);
    row = probes[k].row;
  }
  return row;
}

Eigen::Index CrossApproximation::take_row(Eigen::Index row) {
  taken_[static_cast<std::size_t>(row)] = true;
  row_.noalias() -= right_.leftCols(rank_) * left_.row(row).head(rank_).transpose();
  Eigen::Index pivot = 0;
  added_ = 0.0f;
  if (row_.cwiseAbs().maxCoeff(&pivot) <= 0.0f) return -1;
  row_ /= row_(pivot);
  return pivot;
}

void CrossApproximation::take_column(Eigen::Index column) {
  column_.noalias() -= left_.leftCols(rank_) * right_.row(column).head(rank_).transpose();
  if (rank_ == left_.cols()) {
    left_.conservativeResize(Eigen::NoChange, rank_ + kAtOnce);
    right_.conservativeResize(Eigen::NoChange, rank_ + kAtOnce);
  }
  added_ = column_.norm() * row_.norm();
  left_.col(rank_) = column_;
  right_.col(rank_) = row_;
  ++rank_;
}

Eigen::Index CrossApproximation::next(const std::vector<EntryPlace>& probes,
                                      const std::vector<float>& known) {
  const auto free = [this](Eigen::Index row) { return !taken_[static_cast<std::size_t>(row)]; };
  Eigen::Index out = -1;
  small_ = added_ > tolerance_ ? 0 : small_ + 1;
  if (small_ == 0) {
    float most = 0.0f;
    for (Eigen::Index i = 0; i < column_.size(); ++i) {
      if (!free(i) || std::abs(column_(i)) <= most) continue;
      most = std::abs(column_(i));
      out = i;
    }
    return out;
  }
  if (small_ < kSmallSteps) {
    // Somewhere else: the row that is furthest from those taken in the order of rows.
    Eigen::Index best = 0;
    Eigen::Index begin = 0;
    for (Eigen::Index i = 0; i <= column_.size(); ++i) {
      if (i < column_.size() && free(i)) continue;
      if (i - begin > best) {
        best = i - begin;
        out = begin + best / 2;
      }
      begin = i + 1;
    }
    return out;
  }
  float worst = kProbe * largest_;
  for (std::size_t k = 0; k < probes.size(); ++k) {
    const EntryPlace p = probes[k];
    if (!free(p.row)) continue;
    const auto row = left_.row(p.row).head(rank_);
    const float off = std::abs(known[k] - row.dot(right_.row(p.column).head(rank_)));
    if (off <= worst) continue;
    worst = off;
    out = p.row;
  }
  small_ = 0;
  return out;
}

// Both sides of one size, so that what is made of them is well scaled.
LowRank CrossApproximation::product() const {
  LowRank out{left_.leftCols(rank_), right_.leftCols(rank_)};
  for (Eigen::Index k = 0; k < rank_; ++k) {
    const float left = out.left.col(k).norm();
    const float right = out.right.col(k).norm();
    if (left <= 0.0f || right <= 0.0f) continue;
    const float scale = std::sqrt(right / left);
    out.left.col(k) *= scale;
    out.right.col(k) /= scale;
  }
  return out;
}

}  // namespace bareglass::field
