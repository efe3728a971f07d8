#include "visible.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

#include "forward.hpp"

namespace bareglass::world {

namespace {

using Map = panel::NodeMatrix;

bool holds(const std::vector<std::string>& all, const std::string& one) {
  return std::find(all.begin(), all.end(), one) != all.end();
}

/// The scenario without one item; its device as it would be.
panel::Scenario without(const WorldCase& c, const Item& item) {
  panel::Scenario s = c.scenario;
  const auto belongs = [&](const panel::Event& e) {
    const bool of_thing =
        e.action <= panel::Action::ground &&
        std::find(item.things.begin(), item.things.end(), e.thing) != item.things.end();
    const bool of_device = (item.kind == Kind::sag && e.action == panel::Action::supply);
    return of_thing || of_device || holds(item.faults, e.name);
  };
  s.events.erase(std::remove_if(s.events.begin(), s.events.end(), belongs), s.events.end());
  if (item.kind == Kind::sag) s.device.supply_mv = 3700;
  if (item.kind == Kind::floating_ground) s.device.earth_pf = panel::kConnected;
  if (item.kind == Kind::temperature) s.device.temperature_c = 25;
  return s;
}

/// Readings at the moments of the last life, fF.
std::vector<Map> readings(const WorldCase& c, const panel::Scenario& scenario, Forward& forward) {
  panel::Timeline timeline(scenario);
  const Life& last = c.lives.back();
  std::vector<Map> out;
  Eigen::VectorXd hum;
  for (int k = 0; k < kMoments; ++k) {
    const double t = last.from_s + last.long_s() * (0.06 + 0.92 * k / (kMoments - 1));
    const panel::Situation& now = timeline.at(t);
    out.emplace_back();
    forward.read(out.back(), hum, now, now.faults);
    const double warm_k = now.device.temperature_c - 25.0;
    out.back() *= panel::drive_ratio(scenario.setup.front_end, now.device) *
                  (1 + 1e-6 * scenario.setup.front_end.gain_ppm_k * warm_k);
  }
  return out;
}

/// Takes off the common gain that an aged reference may hide.
void take_gain(Map& d, const Map& bare, bool reference) {
  const double gain = d.cwiseProduct(bare).sum() / bare.squaredNorm();
  d -= (reference ? std::clamp(gain, -kGainKnown, kGainKnown) : gain) * bare;
}

bool stands_out(const Map& d, double sigma) {
  if (d.cwiseAbs().maxCoeff() > kNodeSigmas * sigma) return true;
  for (Eigen::Index r = 0; r + 3 <= d.rows(); ++r)
    for (Eigen::Index q = 0; q + 3 <= d.cols(); ++q)
      if (std::abs(d.block(r, q, 3, 3).sum()) > kSumSigmas * 3.0 * sigma) return true;
  return false;
}

struct Noise {
  double frames = 0.0;  ///< of the average of what stays
  double change = 0.0;  ///< sigma of a change in time
  double level = 0.0;   ///< sigma of what is there throughout
};

Noise noise_of(const WorldCase& c, double there_s) {
  const panel::FrontEndSpec& fe = c.scenario.setup.front_end;
  const Disturbance& x = c.disturbance;
  Noise n;
  n.frames = std::max(1.0, std::min(there_s, 1.0) / (c.scenario.frame_period_us * 1e-6));
  const double quantum = 0.29 / fe.counts_per_ff * (x.twelve_bits ? 16 : 1);
  const double frame =
      fe.noise_ff * fe.noise_ff + x.row_swing_ff * x.row_swing_ff + x.popcorn_ff * x.popcorn_ff;
  // Flicker does not average.
  const double one = frame / n.frames + x.flicker_ff * x.flicker_ff + quantum * quantum;
  n.change = std::sqrt(2 * one);
  double known = x.ageing_ff * x.ageing_ff;
  if (x.reference_frames > 0) known += frame / x.reference_frames;
  if (!c.scenario.factory_reference) known = fe.spread_ff * fe.spread_ff;
  n.level = std::sqrt(one + known);
  return n;
}

double there_s(const WorldCase& c, const Item& item) {
  const Life& last = c.lives.back();
  double sum = 0.0;
  for (const Stay& s : item.stays)
    sum += std::max(0.0, std::min(s.until_s, last.until_s) - std::max(s.from_s, last.from_s));
  return sum;
}

void weigh(const WorldCase& c, Item& item, const std::vector<Map>& with,
           const std::vector<Map>& bare) {
  const double there = there_s(c, item);
  if (there <= 0.0) return;
  const Noise noise = noise_of(c, there);
  std::vector<Map> d(with.size());
  Map mean = Map::Zero(with[0].rows(), with[0].cols());
  for (std::size_t k = 0; k < with.size(); ++k) {
    d[k] = with[k] - bare[k];
    mean += d[k] / static_cast<double>(with.size());
  }
  double peak = 0.0;
  for (std::size_t k = 0; k < with.size(); ++k) {
    Map level = d[k];
    take_gain(level, bare[k], c.scenario.factory_reference);
    const Map change = d[k] - mean;
    item.visible |= stands_out(level, noise.level) || stands_out(change, noise.change);
    item.snr = std::max({item.snr, level.norm() / noise.level, change.norm() / noise.change});
    const double low = d[k].minCoeff();
    const double high = d[k].maxCoeff();
    const double most = -low > high ? low : high;
    if (std::abs(most) > std::abs(peak)) peak = most;
  }
  item.peak_of_finger = peak / c.finger_ff;
}

/// Noise that an item makes rather than a level: rms of a frame over the front end's own.
void weigh_noise(const WorldCase& c, Item& item, const std::vector<Map>& with) {
  const panel::FrontEndSpec& fe = c.scenario.setup.front_end;
  if (item.kind == Kind::common_mode) {
    const double rms = item.strength / fe.drive_v / 1.4142 * with[0].mean();
    const double seen = rms / std::hypot(fe.noise_ff, c.disturbance.row_swing_ff);
    item.visible = seen > 1.5;
    item.snr = 10 * seen;
  } else {
    // A touch carries about half a picofarad of charge into its column.
    item.visible = c.fingers_in_use > 0;
    item.snr = item.visible ? 10 * item.strength * c.finger_ff / fe.drive_v / fe.noise_ff : 0.0;
  }
}

}  // namespace

void find_visible(WorldCase& c) {
  if (c.items.empty()) return;
  Forward forward(c);
  const std::vector<Map> with = readings(c, c.scenario, forward);
  for (Item& item : c.items) {
    if (item.kind == Kind::common_mode || item.kind == Kind::interference)
      weigh_noise(c, item, with);
    else if (there_s(c, item) > 0.0)
      weigh(c, item, with, readings(c, without(c, item), forward));
  }
}

}  // namespace bareglass::world
