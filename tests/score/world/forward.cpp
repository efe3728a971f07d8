#include "forward.hpp"

#include <algorithm>
#include <cmath>

#include "panels.hpp"

namespace bareglass::world {

namespace {

// Purposes that draw random numbers of their own.
enum Stream : std::uint64_t { kSpread = 201, kModel = 202 };

field::LineRange lines_of(const WorldCase& c) {
  return {c.scenario.setup.rows, c.scenario.setup.columns};
}

panel::NodeMatrix smooth_factor(const WorldCase& c) {
  const int rows = c.scenario.setup.rows;
  const int columns = c.scenario.setup.columns;
  panel::NodeMatrix out = panel::NodeMatrix::Ones(rows, columns);
  if (c.disturbance.map_error <= 0.0) return out;
  panel::Random random(c.seed, kModel);
  constexpr int kWaves = 6;
  constexpr double kTwoPi = 6.283185307179586;
  for (int k = 0; k < kWaves; ++k) {
    // Half a wave to three of them over the panel.
    const double fx = (random.uniform() - 0.5) * 6.0 * kTwoPi / 2;
    const double fy = (random.uniform() - 0.5) * 6.0 * kTwoPi / 2;
    const double phase = random.uniform() * kTwoPi;
    const double size = c.disturbance.map_error * std::sqrt(2.0 / kWaves);
    for (int r = 0; r < rows; ++r)
      for (int q = 0; q < columns; ++q)
        out(r, q) += size * std::sin(fx * q / columns + fy * r / rows + phase);
  }
  return out;
}

/// How much of a layer lies over each square of a raster of the panel and what surrounds it.
struct Raster {
  double step_mm = 0.5;
  double x0 = 0.0, y0 = 0.0;  ///< middle of the first square
  Eigen::MatrixXd covered;    ///< squares in y x squares in x
};

Raster raster_of(const panel::Film& layer) {
  Raster out;
  const field::Box b = layer.outline->footprint().bounds();
  // A large layer needs no finer squares than a three-hundredth of it.
  out.step_mm = std::max(0.4, std::max(b.x_high - b.x_low, b.y_high - b.y_low) / 300.0);
  const auto count = [&](double low, double high) {
    return static_cast<Eigen::Index>(std::ceil((high - low) / out.step_mm)) + 2;
  };
  out.x0 = layer.place.x + b.x_low - out.step_mm / 2;
  out.y0 = layer.place.y + b.y_low - out.step_mm / 2;
  out.covered.resize(count(b.y_low, b.y_high), count(b.x_low, b.x_high));
  for (Eigen::Index i = 0; i < out.covered.rows(); ++i)
    for (Eigen::Index j = 0; j < out.covered.cols(); ++j) {
      const field::Point at{out.x0 + out.step_mm * static_cast<double>(j) - layer.place.x,
                            out.y0 + out.step_mm * static_cast<double>(i) - layer.place.y};
      const double d = layer.outline->footprint().distance(at);
      out.covered(i, j) = std::clamp(0.5 - d / out.step_mm, 0.0, 1.0);
    }
  return out;
}

/// lines x squares: the profile's weight of each square on each line.
Eigen::MatrixXd weights(const field::Profile& profile, double pitch_mm, Eigen::Index lines,
                        double first_mm, double step_mm, Eigen::Index squares) {
  Eigen::MatrixXd out(lines, squares);
  for (Eigen::Index l = 0; l < lines; ++l)
    for (Eigen::Index s = 0; s < squares; ++s)
      out(l, s) = step_mm * profile.local(first_mm + step_mm * static_cast<double>(s) -
                                          pitch_mm * static_cast<double>(l));
  return out;
}

double integral(const field::Profile& profile) {
  double sum = 0.0;
  for (const double bin : profile.bins) sum += bin;
  return 2.0 * sum * profile.step_mm;
}

std::vector<double> key_of(const std::vector<panel::LineFault>& faults) {
  std::vector<double> key;
  for (const panel::LineFault& f : faults)
    for (const double v :
         {static_cast<double>(f.kind), f.of_rows ? 1.0 : 0.0, static_cast<double>(f.first),
          static_cast<double>(f.last), static_cast<double>(f.at), f.ohm})
      key.push_back(v);
  return key;
}

}  // namespace

Forward::Forward(const WorldCase& c)
    : case_(c),
      glass_(panel_spec(c.panel), panel_kernels(c.panel), lines_of(c)),
      factor_(smooth_factor(c)) {
  if (c.world == 2)
    earthed_ = std::make_unique<panel::GlassModel>(panel_spec(c.panel), panel_kernels(c.panel),
                                                   lines_of(c));
  panel::Random random(c.seed, kSpread);
  bare_ = panel::NodeMatrix::Constant(c.scenario.setup.rows, c.scenario.setup.columns, node_ff());
  for (Eigen::Index k = 0; k < bare_.size(); ++k)
    bare_.data()[k] += c.scenario.setup.front_end.spread_ff * random.normal();
}

double Forward::node_ff() const { return panel_kernels(case_.panel).numbers.node; }

double Forward::finger_ff() {
  const Eigen::Index row = bare_.rows() / 2;
  const Eigen::Index column = bare_.cols() / 2;
  panel::NodeMatrix flat = panel::NodeMatrix::Constant(bare_.rows(), bare_.cols(), node_ff());
  panel::NodeMatrix before = flat;
  panel::NodeMatrix after = flat;
  response({}).apply(before, flat);
  flat(row, column) += glass_.finger_change();
  response({}).apply(after, flat);
  return before(row, column) - after(row, column);
}

const panel::NodeMatrix& Forward::share_of(const panel::Film& layer) {
  for (const Share& s : shares_)
    if (s.outline == layer.outline && s.place.x == layer.place.x && s.place.y == layer.place.y)
      return s.part;
  constexpr std::size_t kMost = 12;
  if (shares_.size() >= kMost) shares_.erase(shares_.begin());
  const field::SurfaceKernels& k = panel_kernels(case_.panel);
  const Raster raster = raster_of(layer);
  Eigen::MatrixXd part = Eigen::MatrixXd::Zero(bare_.rows(), bare_.cols());
  double all = 0.0;
  for (const field::Separable& term : k.loss.terms) {
    const Eigen::MatrixXd y = weights(term.y, k.row_pitch_mm, bare_.rows(), raster.y0,
                                      raster.step_mm, raster.covered.rows());
    const Eigen::MatrixXd x = weights(term.x, k.column_pitch_mm, bare_.cols(), raster.x0,
                                      raster.step_mm, raster.covered.cols());
    part += y * raster.covered * x.transpose();
    all += integral(term.x) * integral(term.y);
  }
  shares_.push_back({layer.outline, layer.place, part / all});
  return shares_.back().part;
}

void Forward::add_layers(const std::vector<panel::Film>& layers) {
  for (const panel::Film& layer : layers)
    change_ += layer_change(case_.panel, layer.thickness_um, layer.permittivity) * share_of(layer);
}

const panel::LineResponse& Forward::response(const std::vector<panel::LineFault>& faults) {
  std::vector<double> key = key_of(faults);
  const auto found = responses_.find(key);
  if (found != responses_.end()) return found->second;
  return responses_
      .emplace(std::move(key),
               panel::LineResponse(case_.scenario.setup.lines, panel_spec(case_.panel),
                                   panel_kernels(case_.panel).numbers, lines_of(case_), faults))
      .first->second;
}

void Forward::read(panel::NodeMatrix& charge, Eigen::VectorXd& hum, const panel::Situation& now,
                   const std::vector<panel::LineFault>& faults) {
  glass_.respond(out_, now.conductors, {}, now.device.earth_pf);
  change_ = out_.change;
  hum = out_.hum;
  if (earthed_ && !now.conductors.empty()) {
    std::vector<panel::Conductor> earthed = now.conductors;
    for (panel::Conductor& conductor : earthed) conductor.device_pf = panel::kConnected;
    earthed_->respond(lost_, earthed, {}, panel::kConnected);
    change_ += case_.disturbance.passed_error * (out_.change - lost_.change);
  }
  add_layers(now.films);
  change_ = (bare_.array() + change_.array() * factor_.array()).max(0.0);
  charge.resize(bare_.rows(), bare_.cols());
  response(faults).apply(charge, change_);
}

}  // namespace bareglass::world
