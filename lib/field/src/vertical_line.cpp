#include "vertical_line.hpp"

namespace bareglass::field {

VerticalLine::VerticalLine(const LayeredDomain& domain)
    : first_(domain.ground_bottom ? 1 : 0), last_(domain.z.size() - (domain.ground_top ? 2 : 1)) {
  const int cells = domain.z.size() - 1;
  const auto eps = [&](int k) { return kEps0 * domain.permittivity[static_cast<std::size_t>(k)]; };
  for (int k = first_; k <= last_; ++k) {
    const bool below = k > 0;
    const bool above = k < cells;
    const double down = below ? eps(k - 1) / domain.z.cell(k - 1) : 0.0;
    const double up = above ? eps(k) / domain.z.cell(k) : 0.0;
    spread_.push_back(0.5 * ((below ? eps(k - 1) * domain.z.cell(k - 1) : 0.0) +
                             (above ? eps(k) * domain.z.cell(k) : 0.0)));
    lift_.push_back(up);
    sum_.push_back(down + up);
  }
  pivot_.resize(spread_.size());
}

void VerticalLine::factorise(double s) {
  pivot_[0] = sum_[0] + s * spread_[0];
  for (std::size_t k = 1; k < pivot_.size(); ++k)
    pivot_[k] = sum_[k] + s * spread_[k] - lift_[k - 1] * lift_[k - 1] / pivot_[k - 1];
}

void VerticalLine::solve(std::vector<double>& values) const {
  for (std::size_t k = 1; k < pivot_.size(); ++k)
    values[k] += lift_[k - 1] / pivot_[k - 1] * values[k - 1];
  values.back() /= pivot_.back();
  for (std::size_t k = pivot_.size() - 1; k-- > 0;)
    values[k] = (values[k] + lift_[k] * values[k + 1]) / pivot_[k];
}

}  // namespace bareglass::field
