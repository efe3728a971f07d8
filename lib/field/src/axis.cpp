#include "bareglass/field/axis.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace bareglass::field {

namespace {

/// Marks closer than this are one, mm.
constexpr double kSame = 1e-9;

/// Sorted marks without repeats; of two in one place the finer spacing counts.
std::vector<Mark> merged(std::vector<Mark> marks) {
  std::sort(marks.begin(), marks.end(), [](const Mark& a, const Mark& b) { return a.at < b.at; });
  std::vector<Mark> out;
  for (const Mark& mark : marks) {
    if (out.empty() || mark.at - out.back().at > kSame) {
      out.push_back(mark);
    } else if (mark.spacing > 0.0 &&
               (out.back().spacing <= 0.0 || mark.spacing < out.back().spacing)) {
      out.back().spacing = mark.spacing;
    }
  }
  return out;
}

/// Wanted cell width at `position`: the strictest of all marks and zones.
double wanted(const std::vector<Mark>& marks, const Grading& grading, double position) {
  double width = grading.largest;
  for (const Mark& mark : marks) {
    if (mark.spacing <= 0.0) continue;
    width = std::min(width, mark.spacing + grading.growth * std::abs(position - mark.at));
  }
  for (const Zone& zone : grading.zones) {
    const double away = std::max({0.0, zone.begin - position, position - zone.end});
    width = std::min(width, zone.spacing + grading.growth * away);
  }
  return width;
}

/// Appends the lines of (begin, end], equally spaced in the integral of 1/width.
void fill(std::vector<double>& lines, const std::vector<Mark>& marks, const Grading& grading,
          double begin, double end) {
  constexpr int kSteps = 400;
  const double step = (end - begin) / kSteps;
  std::vector<double> cells(kSteps + 1, 0.0);
  for (int i = 0; i < kSteps; ++i) {
    const double width = wanted(marks, grading, begin + (i + 0.5) * step);
    cells[static_cast<std::size_t>(i) + 1] = cells[static_cast<std::size_t>(i)] + step / width;
  }
  const int count = std::max(1, static_cast<int>(std::ceil(cells.back() - 1e-6)));
  int i = 0;
  for (int line = 1; line < count; ++line) {
    const double target = cells.back() * line / count;
    while (cells[static_cast<std::size_t>(i) + 1] < target) ++i;
    const double low = cells[static_cast<std::size_t>(i)];
    const double high = cells[static_cast<std::size_t>(i) + 1];
    lines.push_back(begin + (i + (target - low) / (high - low)) * step);
  }
  lines.push_back(end);
}

}  // namespace

double Axis::share(int i) const {
  if (size() == 1) return 1.0;
  const double before = i > 0 ? cell(i - 1) : 0.0;
  const double after = i + 1 < size() ? cell(i) : 0.0;
  return 0.5 * (before + after);
}

int Axis::nearest(double position) const {
  const auto after = std::lower_bound(at.begin(), at.end(), position);
  if (after == at.begin()) return 0;
  if (after == at.end()) return size() - 1;
  const auto before = after - 1;
  return static_cast<int>((position - *before < *after - position ? before : after) - at.begin());
}

Axis graded_axis(std::vector<Mark> marks, const Grading& grading) {
  const std::vector<Mark> all = merged(std::move(marks));
  if (all.size() < 2) throw std::invalid_argument("a grid axis needs two distinct marks");
  if (wanted(all, grading, all.front().at) >= 1e29)
    throw std::invalid_argument("a grid axis needs a mark with a spacing or a largest cell");
  Axis axis;
  axis.at.push_back(all.front().at);
  for (std::size_t i = 1; i < all.size(); ++i)
    fill(axis.at, all, grading, all[i - 1].at, all[i].at);
  return axis;
}

}  // namespace bareglass::field
