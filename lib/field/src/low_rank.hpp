#pragma once
// A matrix of smooth entries as a product of two thin ones, seen through a few of its rows and
// columns.

#include <Eigen/Dense>
#include <vector>

namespace bareglass::field {

/// rows x columns matrix = left * right'.
struct LowRank {
  Eigen::MatrixXf left;
  Eigen::MatrixXf right;
};

/// Place of an entry.
struct EntryPlace {
  Eigen::Index row = 0;
  Eigen::Index column = 0;
};

/// Adaptive cross approximation with partial pivoting (M. Bebendorf, Approximation of boundary
/// element matrices, Numer. Math. 86, 2000): each step takes the row where the last column was
/// largest, subtracts what is known of it, and a column through its largest entry.
class CrossApproximation {
 public:
  /// What may be missed, `tolerance`, is a Frobenius norm.
  CrossApproximation(Eigen::Index rows, Eigen::Index columns, float tolerance);

  /// `entry(place)` gives one entry. `probes` are places where entries are large, at least one. The
  /// first row is that of the largest probe, and the end is reached when two steps in a row add
  /// less than the tolerance and no probe is off by more than kProbe of the largest one: without
  /// probes, a part that lies far from all others may be missed.
  template <typename Entry>
  LowRank run(const std::vector<EntryPlace>& probes, const Entry& entry) {
    std::vector<float> known;
    for (const EntryPlace& p : probes) known.push_back(entry(p));
    Eigen::Index row = begin(probes, known);
    while (row >= 0) {
      for (Eigen::Index j = 0; j < row_.size(); ++j) row_(j) = entry({row, j});
      const Eigen::Index column = take_row(row);
      if (column >= 0) {
        for (Eigen::Index i = 0; i < column_.size(); ++i) column_(i) = entry({i, column});
        take_column(column);
      }
      row = next(probes, known);
    }
    return product();
  }

  static constexpr float kProbe = 0.01f;

 private:
  Eigen::Index begin(const std::vector<EntryPlace>& probes, const std::vector<float>& known);
  /// Leaves of row_ what is not known yet, its largest entry being 1, and gives that one's column;
  /// -1 if nothing is left.
  Eigen::Index take_row(Eigen::Index row);
  void take_column(Eigen::Index column);
  /// The row to take next; -1 at the end.
  Eigen::Index next(const std::vector<EntryPlace>& probes, const std::vector<float>& known);
  LowRank product() const;

  Eigen::MatrixXf left_;
  Eigen::MatrixXf right_;
  Eigen::VectorXf row_;
  Eigen::VectorXf column_;
  std::vector<bool> taken_;  ///< rows
  Eigen::Index rank_ = 0;
  float tolerance_;
  float added_ = 0.0f;    ///< by the last step, Frobenius norm
  float largest_ = 0.0f;  ///< of the probes
  int small_ = 0;         ///< steps in a row that added less than the tolerance
};

}  // namespace bareglass::field
