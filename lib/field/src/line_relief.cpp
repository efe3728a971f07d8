#include "line_relief.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::field {

namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kTableStep = 0.25;  // mm; the field at the ground bends over a slab's thickness
constexpr int kTablePlaces = 80;
constexpr int kHarmonics = 5;  // of a pitch, the mean included: the next is below 1e-3 of it
/// Waves along a line's own direction, as parts of the pitch's wave number, so that a wave and one
/// a pitch's wave number away are both among them. Nothing comes through 0.5 mm of glass at 12/mm.
constexpr int kPerPitchWave = 50;
constexpr int kWaves = 10 * kPerPitchWave;

/// Integral over both sides of a profile's bins times cos(k x).
double cosine_integral(const Profile& profile, double k) {
  double sum = 0.0;
  if (k < 1e-9) {
    for (const double bin : profile.bins) sum += bin * profile.step_mm;
    return 2.0 * sum;
  }
  double below = 0.0;
  for (std::size_t n = 0; n < profile.bins.size(); ++n) {
    const double above = std::sin(k * static_cast<double>(n + 1) * profile.step_mm);
    sum += profile.bins[n] * (above - below);
    below = above;
  }
  return 2.0 * sum / k;
}

/// A line's kernel in waves: `m` pitches' waves across the direction that repeats, `k` along the
/// other one. Of a row x repeats, of a column y.
struct LineWaves {
  const Kernel& kernel;
  bool row;
  double pitch;  ///< of the direction that repeats

  const Profile& periodic(const Separable& t) const { return row ? t.x : t.y; }
  const Profile& local(const Separable& t) const { return row ? t.y : t.x; }
  double wave(int m) const { return 2.0 * kPi * m / pitch; }
  double amplitude(int m, double k) const {
    double sum = 0.0;
    for (const Separable& t : kernel.terms)
      sum += cosine_integral(periodic(t), wave(m)) / pitch * cosine_integral(local(t), k);
    return sum;
  }
};

/// Amplitudes of harmonics 0.. (down) at waves (w + 1/2) `step` (across).
using Spectrum = Eigen::MatrixXd;

Spectrum spectrum_of(const LineWaves& line, double step) {
  Spectrum out = Spectrum::Zero(kHarmonics, kWaves);
  for (const Separable& t : line.kernel.terms) {
    Eigen::VectorXd across(kHarmonics);
    for (int m = 0; m < kHarmonics; ++m)
      across(m) = cosine_integral(line.periodic(t), line.wave(m)) / line.pitch;
    Eigen::RowVectorXd along(kWaves);
    for (int w = 0; w < kWaves; ++w) along(w) = cosine_integral(line.local(t), (w + 0.5) * step);
    out += across * along;
  }
  return out;
}

/// Sum of what a relief wave mixes into each amplitude: its two neighbours a pitch's wave away, in
/// the direction that repeats (`across`) or along the other one.
Spectrum neighbours(const Spectrum& of, bool across) {
  Spectrum out = Spectrum::Zero(of.rows(), of.cols());
  if (across) {
    for (Eigen::Index m = 0; m < of.rows(); ++m) {
      out.row(m) += of.row(std::abs(m - 1));
      if (m + 1 < of.rows()) out.row(m) += of.row(m + 1);
    }
    return out;
  }
  for (Eigen::Index w = 0; w < of.cols(); ++w) {
    const Eigen::Index below = w - kPerPitchWave;
    out.col(w) += of.col(below >= 0 ? below : -below - 1);
    if (w + kPerPitchWave < of.cols()) out.col(w) += of.col(w + kPerPitchWave);
  }
  return out;
}

/// A function of the whole wave number at each place of a spectrum.
template <typename Function>
Spectrum at_waves(const LineWaves& line, double step, const Function& function) {
  Spectrum out(kHarmonics, kWaves);
  for (int m = 0; m < kHarmonics; ++m)
    for (int w = 0; w < kWaves; ++w)
      out(m, w) = function(std::hypot(line.wave(m), (w + 0.5) * step));
  return out;
}

/// One product per harmonic that matters, from its waves.
Kernel kernel_of(const Spectrum& volts, const LineWaves& line, double step) {
  constexpr double kMatters = 4e-3;
  Kernel out;
  const Profile& shape = line.periodic(line.kernel.terms.front());
  const double bin = line.local(line.kernel.terms.front()).step_mm;
  for (int m = 0; m < kHarmonics; ++m) {
    if (m > 0 && volts.row(m).cwiseAbs().maxCoeff() < kMatters * volts.row(0).cwiseAbs().maxCoeff())
      continue;
    Profile periodic = shape;
    for (std::size_t n = 0; n < periodic.bins.size(); ++n)
      periodic.bins[n] = (m == 0 ? 1.0 : 2.0) *
                         std::cos(line.wave(m) * periodic.step_mm * (static_cast<double>(n) + 0.5));
    Profile local;
    local.step_mm = bin;
    local.bins.assign(static_cast<std::size_t>(std::ceil(LineRelief::kReach / bin)), 0.0);
    for (int w = 0; w < kWaves; ++w) {
      const double k = (w + 0.5) * step;
      // cos((n + 1/2) k bin) by its recurrence.
      const double turn = 2.0 * std::cos(k * bin);
      double now = std::cos(0.5 * k * bin);
      double before = now;
      for (double& value : local.bins) {
        value += volts(m, w) * step / kPi * now;
        const double next = turn * now - before;
        before = now;
        now = next;
      }
    }
    out.terms.push_back(line.row ? Separable{periodic, local} : Separable{local, periodic});
  }
  return out;
}

}  // namespace

LineRelief::LineRelief(const SurfaceKernels& kernels, const SpotResponse& spot) {
  find_waves(kernels, spot);
  tabulate(spot);
  // The charge c that belongs to phi on a flat ground obeys c + Y (relief's part of it) = q, with Y
  // the slab's charge per volt; the relief's part is small, so a few rounds find it.
  for (const bool row : {true, false}) {
    const LineWaves line{row ? kernels.q_row : kernels.q_column, row,
                         row ? kernels.column_pitch_mm : kernels.row_pitch_mm};
    const double other = row ? kernels.row_pitch_mm : kernels.column_pitch_mm;
    const double step = 2.0 * kPi / other / kPerPitchWave;
    const Spectrum charge = spectrum_of(line, step);
    const Spectrum answer = at_waves(line, step, [&](double k) { return spot.charge_per_volt(k); });
    const Spectrum ground = at_waves(line, step, [&](double k) { return spot.field_at_ground(k); });
    Spectrum flat = charge;
    constexpr int kRounds = 6;
    for (int round = 0; round < kRounds; ++round) {
      Spectrum volts = Spectrum::Zero(kHarmonics, kWaves);
      for (const Wave& wave : waves_)
        volts += wave.height *
                 ground.cwiseProduct(neighbours(ground.cwiseProduct(flat), wave.along_x == row));
      flat = charge - answer.cwiseProduct(volts);
    }
    (row ? phi_row_ : phi_column_) = kernel_of(flat.cwiseQuotient(answer), line, step);
  }
  // Both repeat over a pitch in one direction: the sums of bins are those of one node.
  for (const Separable& a : phi_row_.terms)
    for (const Separable& b : kernels.q_column.terms) {
      double x = 0.0;
      double y = 0.0;
      for (std::size_t n = 0; n < b.x.bins.size(); ++n)
        x += b.x.bins[n] * b.x.step_mm *
             a.x.periodic((static_cast<double>(n) + 0.5) * b.x.step_mm, kernels.column_pitch_mm);
      for (std::size_t n = 0; n < a.y.bins.size(); ++n)
        y += a.y.bins[n] * a.y.step_mm *
             b.y.periodic((static_cast<double>(n) + 0.5) * a.y.step_mm, kernels.row_pitch_mm);
      cover_loss_ += 4.0 * x * y;
    }
}

// The waves' heights follow from what is between the potential phi of a line and the potential that
// its charge q on a cover would make over flat ground: in the mean and in the first harmonic of
// either line, each weighted with its share in what a node loses.
void LineRelief::find_waves(const SurfaceKernels& kernels, const SpotResponse& spot) {
  const double pitch[2] = {kernels.column_pitch_mm, kernels.row_pitch_mm};
  const LineWaves charge[2] = {{kernels.q_row, true, pitch[0]},
                               {kernels.q_column, false, pitch[1]}};
  const LineWaves volts[2] = {{kernels.phi_row, true, pitch[0]},
                              {kernels.phi_column, false, pitch[1]}};
  // Wave 0 runs along x, which is across rows; wave 1 along y.
  Eigen::Matrix<double, 4, 2> per_height;
  Eigen::Vector4d seen;
  const auto ground = [&](double k) { return spot.field_at_ground(k); };
  for (int l = 0; l < 2; ++l) {
    const double across = 2.0 * kPi / pitch[l];
    const double along = 2.0 * kPi / pitch[1 - l];
    const double whole = charge[1 - l].amplitude(0, 0.0);
    const double first = 2.0 * charge[1 - l].amplitude(0, across);
    const double q0 = charge[l].amplitude(0, 0.0);
    const double q1 = charge[l].amplitude(1, 0.0);
    per_height(l, l) = 2.0 * ground(0.0) * ground(across) * q1;
    per_height(l, 1 - l) = 2.0 * ground(0.0) * ground(along) * charge[l].amplitude(0, along);
    per_height.row(l) *= whole;
    seen(l) = (q0 / spot.charge_per_volt(0.0) - volts[l].amplitude(0, 0.0)) * whole;
    per_height(l + 2, l) =
        ground(across) * (ground(0.0) * q0 + ground(2.0 * across) * charge[l].amplitude(2, 0.0));
    per_height(l + 2, 1 - l) =
        2.0 * ground(across) * ground(std::hypot(across, along)) * charge[l].amplitude(1, along);
    per_height.row(l + 2) *= first;
    seen(l + 2) = (q1 / spot.charge_per_volt(across) - volts[l].amplitude(1, 0.0)) * first;
  }
  // A wave that shows little in its own line's first harmonic is none: bars leave next to no relief
  // along y, and what other errors make of the means must not be taken for one.
  constexpr double kLowest = 0.1;  // part of what the other wave shows
  for (int l = 0; l < 2; ++l)
    if (!(std::abs(seen(l + 2)) > kLowest * std::abs(seen(3 - l)))) per_height.col(l).setZero();
  const Eigen::Vector2d height = per_height.colPivHouseholderQr().solve(seen);
  // Part by which a wave changes the slab's answer; beyond it first order says nothing.
  constexpr double kSmall = 0.3;
  for (int l = 0; l < 2; ++l) {
    const double k = 2.0 * kPi / pitch[l];
    const double part = 2.0 * std::abs(height(l)) * ground(0.0) * ground(k) *
                        std::sqrt(spot.charge_per_volt(0.0) * spot.charge_per_volt(k));
    if (part < kSmall && height(l) != 0.0) waves_.push_back({l == 0, k, height(l)});
  }
}

// Of a wave's part between two spots, the transform over their distance is the product of the
// fields at the ground half a pitch's wave number to either side.
void LineRelief::tabulate(const SpotResponse& spot) {
  constexpr int kSteps = 160;
  constexpr double kStep = 0.06;  // 1/mm
  for (const Wave& wave : waves_) {
    Eigen::MatrixXd product(kSteps, kSteps);
    Eigen::MatrixXd cosine(kTablePlaces, kSteps);
    for (int i = 0; i < kSteps; ++i) {
      const double along = (i + 0.5) * kStep;
      for (int j = 0; j < kSteps; ++j) {
        const double across = (j + 0.5) * kStep;
        product(i, j) = spot.field_at_ground(std::hypot(along + 0.5 * wave.k, across)) *
                        spot.field_at_ground(std::hypot(along - 0.5 * wave.k, across));
      }
      for (int n = 0; n < kTablePlaces; ++n) cosine(n, i) = std::cos(along * n * kTableStep);
    }
    const Eigen::MatrixXd table =
        2.0 * wave.height * (kStep * kStep / (kPi * kPi)) * cosine * product * cosine.transpose();
    tables_.push_back(wave.along_x ? table : Eigen::MatrixXd(table.transpose()));
  }
}

double LineRelief::between(std::size_t w, double dx, double dy) const {
  const double x = std::abs(dx) / kTableStep;
  const double y = std::abs(dy) / kTableStep;
  if (x >= kTablePlaces - 1 || y >= kTablePlaces - 1) return 0.0;
  const auto i = static_cast<Eigen::Index>(x);
  const auto j = static_cast<Eigen::Index>(y);
  const double u = x - static_cast<double>(i);
  const double v = y - static_cast<double>(j);
  const Eigen::MatrixXd& t = tables_[w];
  return (1 - v) * ((1 - u) * t(i, j) + u * t(i + 1, j)) +
         v * ((1 - u) * t(i, j + 1) + u * t(i + 1, j + 1));
}

}  // namespace bareglass::field
