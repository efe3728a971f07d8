#include "piece_profile.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

using infer::CellModel;
using infer::CoverMap;
using infer::NodeMap;
using infer::Scene;
using infer::SceneBody;

// Shares of its own capacitance in all that holds a body, from isolated to earthed.
constexpr double kShares[] = {1.0, 0.98, 0.94, 0.88, 0.8, 0.68, 0.52, 0.36, 0.22, 0.1, 0.03, 0.0};
constexpr int kRounds = 3;
constexpr double kMostStretch = 0.6;
// What the map does not determine at all stays within the thing's own size: standard deviations of
// stretch and shear, and of a shift in pitches.
constexpr double kStretch = 0.5;
constexpr double kShift = 1.0;
// Steps of the derivatives: mm, and shares.
constexpr double kStep_mm = 0.2;
constexpr double kStep = 0.02;

double to_earth_at(double share, double self) {
  if (share <= 0) return static_cast<double>(infer::kEarthed);
  return self * (1.0 - share) / share;
}

struct Middle {
  double x = 0, y = 0;  ///< cells
};

Middle middle_of(const CoverMap& cover) {
  double sum = 1e-12;
  Middle m;
  for (Eigen::Index i = 0; i < cover.cols(); ++i)
    for (Eigen::Index j = 0; j < cover.rows(); ++j) {
      const auto c = static_cast<double>(cover(j, i));
      sum += c;
      m.x += c * static_cast<double>(i);
      m.y += c * static_cast<double>(j);
    }
  m.x /= sum;
  m.y /= sum;
  return m;
}

/// The cover after `moves` about its middle, linear between cells.
CoverMap moved(const CoverMap& cover, const Middle& m, const Moves& moves, const CellModel& model) {
  const double cx = model.cell_x_mm(), cy = model.cell_y_mm();
  Eigen::Matrix2d stretch;
  stretch << 1 + moves(2), moves(4) * cy / cx, moves(4) * cx / cy, 1 + moves(3);
  const Eigen::Matrix2d back = stretch.inverse();
  CoverMap out(cover.rows(), cover.cols());
  const auto most_x = static_cast<double>(cover.cols() - 1);
  const auto most_y = static_cast<double>(cover.rows() - 1);
  for (Eigen::Index i = 0; i < out.cols(); ++i)
    for (Eigen::Index j = 0; j < out.rows(); ++j) {
      const Eigen::Vector2d to(static_cast<double>(i) - m.x - moves(0) / cx,
                               static_cast<double>(j) - m.y - moves(1) / cy);
      const Eigen::Vector2d from = back * to;
      // What reaches the edge of the glass goes on there.
      const double x = std::clamp(from(0) + m.x, 0.0, most_x);
      const double y = std::clamp(from(1) + m.y, 0.0, most_y);
      const auto x0 = std::min(static_cast<Eigen::Index>(x), cover.cols() - 2);
      const auto y0 = std::min(static_cast<Eigen::Index>(y), cover.rows() - 2);
      const auto fx = static_cast<float>(x - static_cast<double>(x0));
      const auto fy = static_cast<float>(y - static_cast<double>(y0));
      out(j, i) = (1 - fy) * ((1 - fx) * cover(y0, x0) + fx * cover(y0, x0 + 1)) +
                  fy * ((1 - fx) * cover(y0 + 1, x0) + fx * cover(y0 + 1, x0 + 1));
    }
  return out;
}

/// Everything but the profiled way to earth that may move, with the standard deviation that it has
/// before anything was measured.
class Knobs {
 public:
  Knobs(const FittedPiece& piece, const CellModel& model) : piece_(piece), model_(model) {
    const Scene& s = piece.fit->scene;
    const infer::Prices prices;
    const double pitch = CellModel::kCells * std::sqrt(model.cell_x_mm() * model.cell_y_mm());
    add_moves(piece.is_layer, piece.index, pitch);
    if (piece.is_layer)
      add({Kind::amount, true, piece.index, 0}, amount_sigma(prices));
    else
      add({Kind::slack, false, piece.index, 0}, prices.slack);
    own_ = static_cast<int>(knobs_.size());
    for (std::size_t b = 0; b < s.bodies.size(); ++b) {
      if (!piece.is_layer && b == piece.index) continue;
      add_moves(false, b, pitch);
      if (!std::isinf(s.bodies[b].body.to_earth)) add({Kind::slack, false, b, 0}, prices.slack);
      if (s.bodies[b].way == infer::WayToEarth::free) add({Kind::way, false, b, 0}, 2.0);
    }
    for (std::size_t l = 0; l < s.layers.size(); ++l) {
      if (piece.is_layer && l == piece.index) continue;
      add_moves(true, l, pitch);
      add({Kind::amount, true, l, 0}, amount_sigma(prices));
    }
    for (const SceneBody& b : s.bodies) middles_.push_back(middle_of(b.body.cover));
    for (const infer::Layer& l : s.layers) middles_.push_back(middle_of(l.cover));
  }

  int count() const { return static_cast<int>(knobs_.size()); }
  int own() const { return own_; }  ///< the first ones: moves, then slack or amount
  const Eigen::VectorXd& sigma() const { return sigma_; }
  const Middle& middle() const {
    const std::size_t bodies = piece_.fit->scene.bodies.size();
    return middles_[piece_.is_layer ? bodies + piece_.index : piece_.index];
  }
  double step(int k) const {
    const Knob& knob = knobs_[static_cast<std::size_t>(k)];
    return knob.kind == Kind::move && knob.move < 2 ? kStep_mm : kStep;
  }

  /// The fitted scene with every knob turned by `by`.
  Scene turned(const Scene& from, const Eigen::VectorXd& by, int first, int last) const {
    Scene out = from;
    for (int k = first; k < last; ++k) turn(out, knobs_[static_cast<std::size_t>(k)], by(k));
    move_cover(out, by, first, last);
    return out;
  }

 private:
  enum class Kind { move, slack, amount, way };
  struct Knob {
    Kind kind;
    bool of_layer;
    std::size_t index;
    int move;
  };

  static double amount_sigma(const infer::Prices&) { return 0.2; }

  void add(const Knob& knob, double sigma) {
    knobs_.push_back(knob);
    sigma_.conservativeResize(static_cast<Eigen::Index>(knobs_.size()));
    sigma_(sigma_.size() - 1) = sigma;
  }
  void add_moves(bool of_layer, std::size_t index, double pitch) {
    for (int m = 0; m < kMoves; ++m)
      add({Kind::move, of_layer, index, m}, m < 2 ? kShift * pitch : kStretch);
  }

  static void turn(Scene& s, const Knob& knob, double by) {
    if (knob.kind == Kind::slack)
      s.bodies[knob.index].slack += static_cast<float>(by);
    else if (knob.kind == Kind::amount)
      s.layers[knob.index].amount += static_cast<float>(by);
    else if (knob.kind == Kind::way)
      s.bodies[knob.index].body.to_earth *= static_cast<float>(std::exp(by));
  }

  /// Moves of one thing go together.
  void move_cover(Scene& s, const Eigen::VectorXd& by, int first, int last) const {
    for (int k = first; k < last;) {
      const Knob& knob = knobs_[static_cast<std::size_t>(k)];
      if (knob.kind != Kind::move) {
        ++k;
        continue;
      }
      Moves moves = Moves::Zero();
      for (; k < last && knobs_[static_cast<std::size_t>(k)].kind == Kind::move &&
             knobs_[static_cast<std::size_t>(k)].index == knob.index &&
             knobs_[static_cast<std::size_t>(k)].of_layer == knob.of_layer;
           ++k)
        moves(knobs_[static_cast<std::size_t>(k)].move) = by(k);
      if (moves.isZero()) continue;
      const std::size_t at = knob.of_layer ? s.bodies.size() + knob.index : knob.index;
      CoverMap& cover =
          knob.of_layer ? s.layers[knob.index].cover : s.bodies[knob.index].body.cover;
      cover = moved(cover, middles_[at], moves, model_);
    }
  }

  const FittedPiece& piece_;
  const CellModel& model_;
  std::vector<Knob> knobs_;
  Eigen::VectorXd sigma_;
  std::vector<Middle> middles_;
  int own_ = 0;
};

/// Damped least squares over all knobs at one way to earth.
class Settler {
 public:
  Settler(const FittedPiece& piece, const CellModel& model, const Knobs& knobs)
      : evidence_(piece.fit->evidence), model_(model), knobs_(knobs) {
    // What the others do to the map hardly depends on this one: their slopes are taken once.
    const Scene& s = piece.fit->scene;
    slopes_ = Eigen::MatrixXd::Zero(evidence_.departure.size(), knobs.count());
    for (int k = knobs.own(); k < knobs.count(); ++k)
      slope(s, k, Eigen::VectorXd::Zero(knobs.count()));
  }

  ProfileAt settle(const Scene& at, bool is_layer) {
    const int n = knobs_.count();
    Eigen::VectorXd p = Eigen::VectorXd::Zero(n);
    Eigen::MatrixXd square;
    double cost = cost_at(at, p);
    for (int round = 0; round <= kRounds; ++round) {
      for (int k = 0; k < knobs_.own(); ++k) slope(at, k, p);
      const Eigen::VectorXd r = residual(at, p);
      const Eigen::VectorXd weight =
          (1.0 + r.array().square() / kTailSquare).sqrt().inverse().matrix();
      square = slopes_.transpose() * weight.asDiagonal() * slopes_;
      square.diagonal().array() += knobs_.sigma().array().square().inverse();
      if (round == kRounds) break;
      const Eigen::VectorXd along = slopes_.transpose() * weight.cwiseProduct(r) +
                                    (p.array() / knobs_.sigma().array().square()).matrix();
      const Eigen::VectorXd step = -square.ldlt().solve(along);
      double part = 1.0;
      bool better = false;
      for (int tries = 0; tries < 4 && !better; ++tries, part *= 0.4) {
        Eigen::VectorXd q = p + part * step;
        for (int m = 2; m < kMoves; ++m) q(m) = std::clamp(q(m), -kMostStretch, kMostStretch);
        const double trial = cost_at(at, q);
        better = trial < cost - 0.01;
        if (better) {
          p = q;
          cost = trial;
        }
      }
      if (!better) round = kRounds - 1;
    }
    const Eigen::MatrixXd covariance = square.inverse();
    ProfileAt out;
    out.cost = cost;
    out.moves = p.head<kMoves>();
    out.covariance = covariance.topLeftCorner<kMoves, kMoves>();
    if (is_layer) {
      out.amount = p(kMoves);
      out.amount_variance = covariance(kMoves, kMoves);
    }
    return out;
  }

 private:
  static constexpr double kTailSquare = 16.0;  // as the fit's own misfit

  NodeMap predicted(const Scene& at, const Eigen::VectorXd& p) const {
    NodeMap out = infer::predict(model_, knobs_.turned(at, p, 0, knobs_.own()));
    const int others = knobs_.count() - knobs_.own();
    if (others > 0) {
      const Eigen::VectorXd shift = slopes_.rightCols(others) * p.tail(others);
      for (Eigen::Index k = 0; k < out.size(); ++k)
        if (std::isfinite(evidence_.sigma(k)))
          out(k) += static_cast<float>(shift(k)) * evidence_.sigma(k);
    }
    return out;
  }
  Eigen::VectorXd over_sigma(const NodeMap& map) const {
    return map.cwiseQuotient(evidence_.sigma).cast<double>().reshaped();
  }
  Eigen::VectorXd residual(const Scene& at, const Eigen::VectorXd& p) const {
    return over_sigma(predicted(at, p) - evidence_.departure);
  }
  double cost_at(const Scene& at, const Eigen::VectorXd& p) const {
    return infer::misfit_of(evidence_, predicted(at, p)) +
           0.5 * p.cwiseQuotient(knobs_.sigma()).squaredNorm();
  }
  void slope(const Scene& at, int k, const Eigen::VectorXd& p) {
    Eigen::VectorXd q = p;
    const int first = k < knobs_.own() ? 0 : k;
    const int last = k < knobs_.own() ? knobs_.own() : k + 1;
    q(k) = p(k) + knobs_.step(k);
    const NodeMap up = infer::predict(model_, knobs_.turned(at, q, first, last));
    q(k) = p(k) - knobs_.step(k);
    const NodeMap down = infer::predict(model_, knobs_.turned(at, q, first, last));
    slopes_.col(k) = over_sigma(up - down) / (2.0 * knobs_.step(k));
  }

  const infer::Evidence& evidence_;
  const CellModel& model_;
  const Knobs& knobs_;
  Eigen::MatrixXd slopes_;  ///< nodes x knobs, in standard deviations
};

}  // namespace

PieceProfile profile_of(const FittedPiece& piece, const CellModel& model,
                        const infer::PatchCheck& patches) {
  const Knobs knobs(piece, model);
  Settler settler(piece, model, knobs);
  PieceProfile out;
  const double half = CellModel::kCells / 2.0;
  out.x = (knobs.middle().x + 0.5 - half) * model.cell_x_mm();
  out.y = (knobs.middle().y + 0.5 - half) * model.cell_y_mm();
  const Scene& fitted = piece.fit->scene;
  if (piece.is_layer) {
    out.at.push_back(settler.settle(fitted, true));
    out.at.back().amount += static_cast<double>(fitted.layers[piece.index].amount);
  } else {
    const SceneBody& body = fitted.bodies[piece.index];
    const auto self = static_cast<double>(model.couple(body.body.cover).self);
    std::vector<double> ways;
    for (const double share : kShares) ways.push_back(to_earth_at(share, self));
    ways.push_back(static_cast<double>(body.body.to_earth));
    std::sort(ways.begin(), ways.end());
    ways.erase(std::unique(ways.begin(), ways.end()), ways.end());
    for (const double way : ways) {
      Scene at = fitted;
      SceneBody& b = at.bodies[piece.index];
      b.body.to_earth = static_cast<float>(way);
      if (way != static_cast<double>(body.body.to_earth)) {
        Scene alone;
        alone.bodies.push_back(b);
        patches.ask(model, alone);
        b.beyond = alone.bodies[0].beyond;
      }
      out.at.push_back(settler.settle(at, false));
      out.at.back().to_earth_ff = way;
    }
  }
  out.least = out.at.front().cost;
  for (const ProfileAt& p : out.at) out.least = std::min(out.least, p.cost);
  return out;
}

Range range_of(const PieceProfile& profile, const Moves& slope, double budget) {
  Range out{1e9, -1e9};
  for (const ProfileAt& p : profile.at) {
    const double left = budget - (p.cost - profile.least);
    if (left < 0) continue;
    const double middle = slope.dot(p.moves);
    const double half = std::sqrt(2.0 * left * std::max(0.0, slope.dot(p.covariance * slope)));
    out.low = std::min(out.low, middle - half);
    out.high = std::max(out.high, middle + half);
  }
  return out;
}

}  // namespace bareglass::host
