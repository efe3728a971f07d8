#include "bareglass/view/replay_layers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace bareglass::view {

namespace {

NodeLayer nothing(const char* why) {
  NodeLayer layer;
  layer.missing = why;
  return layer;
}

// One sign: fewer counts are darker, as under a finger (or more, where a finger raises them).
NodeLayer counts_layer(const std::vector<float>& counts, bool counts_rise, std::string says) {
  NodeLayer layer;
  const auto [low, high] = std::minmax_element(counts.begin(), counts.end());
  // Less than a tenth of the counts between the extremes is manufacture and noise: it stays pale.
  const float span = std::max({*high - *low, 0.1F * *high, 1.0F});
  const float pale = counts_rise ? *low : *high;
  for (const float c : counts) {
    layer.share.push_back(std::abs(c - pale) / span);
    layer.shown.push_back(c / 1000.0F);
  }
  layer.digits = 1;
  layer.legend_low = fmt::format("{:.1f}k", pale / 1000.0F);
  layer.legend_high = fmt::format("{:.1f}k", (counts_rise ? pale + span : pale - span) / 1000.0F);
  layer.says = std::move(says);
  return layer;
}

/// Percent of a finger that the full colour stands for: steps of 20, so that noise does not make
/// the colours breathe, and never so little that noise looks like a thing.
float full_share(const std::vector<float>& share, float limit) {
  float most = 2.0F * limit;
  for (const float s : share) most = std::max(most, std::abs(s));
  return most > 0.5F ? std::ceil(most * 5.0F) / 5.0F : std::ceil(most * 20.0F) / 20.0F;
}

NodeLayer signed_layer(std::vector<float> share, float limit, std::string says) {
  NodeLayer layer;
  const float full = full_share(share, limit);
  for (const float s : share) layer.shown.push_back(100.0F * s);
  for (float& s : share) s = std::clamp(s / full, -1.0F, 1.0F);
  layer.share = std::move(share);
  layer.diverging = true;
  layer.legend_low = fmt::format("-{:.0f} %", 100.0F * full);
  layer.legend_middle = "0";
  layer.legend_high = fmt::format("+{:.0f} %", 100.0F * full);
  layer.says = std::move(says);
  return layer;
}

float finger(const Engine& engine) { return static_cast<float>(engine.settings().finger_counts); }

/// While input is off the engine keeps the departure of the last look; with a reference the moment
/// itself can be compared.
bool compares_reading(const DumpIndex& index) {
  return !has_baseline(index.engine()) && !index.reference().empty() &&
         !index.moment().frame.raw.empty();
}

bool has_last_look(const Engine& engine) {
  const InputState s = engine.state();
  return s == InputState::waiting || s == InputState::off || s == InputState::service;
}

std::vector<float> departures(const DumpIndex& index) {
  const Engine& engine = index.engine();
  std::vector<float> share;
  if (compares_reading(index)) {
    const std::vector<std::uint16_t>& raw = index.moment().frame.raw;
    const float sign = engine.settings().counts_rise ? -1.0F : 1.0F;
    for (std::size_t i = 0; i < raw.size(); ++i)
      share.push_back(sign * static_cast<float>(int{index.reference()[i]} - int{raw[i]}) /
                      finger(engine));
  } else if (has_baseline(engine) || has_last_look(engine)) {
    for (const std::int16_t d : engine.difference())
      share.push_back(static_cast<float>(d) / finger(engine));
  }
  return share;
}

NodeLayer difference_layer(const DumpIndex& index) {
  const Engine& engine = index.engine();
  std::vector<float> share = departures(index);
  if (share.empty())
    return nothing("The panel is still looking at its glass: nothing to compare with yet.");
  const float limit = static_cast<float>(engine.limits().surface) / finger(engine);
  return signed_layer(std::move(share), limit,
                      "Percent of a finger, " + compared_with(index) +
                          ". + orange: as a touch does. - blue: the other way.");
}

NodeLayer findings_layer(const DumpIndex& index) {
  const Engine& engine = index.engine();
  std::vector<float> share = departures(index);
  if (share.empty()) return nothing("The panel is still looking at its glass: no findings yet.");
  const float limit = static_cast<float>(engine.limits().surface) / finger(engine);
  for (float& s : share)
    if (std::abs(s) < limit) s = 0.0F;
  return signed_layer(std::move(share), limit,
                      fmt::format("Only what departs by {:.0f} % of a finger or more, {}.",
                                  static_cast<double>(100.0F * limit), compared_with(index)));
}

NodeLayer baseline_layer(const DumpIndex& index) {
  const Engine& engine = index.engine();
  std::vector<float> counts;
  const bool rise = engine.settings().counts_rise;
  if (has_baseline(engine)) {
    for (const BaselineQ8 b : engine.baseline_q8())
      counts.push_back(static_cast<float>(b) / 256.0F);
    return counts_layer(counts, rise, "Thousands of counts: what the panel takes for untouched.");
  }
  if (index.reference().empty())
    return nothing("There is no baseline while input is off, and no factory reference.");
  counts.assign(index.reference().begin(), index.reference().end());
  return counts_layer(counts, rise,
                      "No baseline while input is off. Factory reference, thousands of counts.");
}

NodeLayer noise_layer(const DumpIndex& index) {
  const Engine& engine = index.engine();
  if (!has_baseline(engine)) return nothing("Noise is measured only while input is on.");
  // Mean absolute successive difference / 1.128 estimates the standard deviation (control-chart
  // constant d2 for n = 2).
  constexpr float kD2 = 1.128F;
  NodeLayer layer;
  float most = 0.02F;
  for (const std::uint16_t q4 : engine.roughness_q4()) {
    const float share = static_cast<float>(q4) / 16.0F / kD2 / finger(engine);
    layer.share.push_back(share);
    layer.shown.push_back(100.0F * share);
    most = std::max(most, share);
  }
  const float full = std::ceil(most * 50.0F) / 50.0F;
  for (float& s : layer.share) s /= full;
  layer.digits = 1;
  layer.legend_low = "0";
  layer.legend_high = fmt::format("{:.0f} %", 100.0F * full);
  layer.says = "Noise of each node (standard deviation), percent of a finger.";
  return layer;
}

}  // namespace

const char* name_of(ReplayLayer layer) {
  constexpr const char* kNames[kReplayLayers] = {"Raw", "Baseline", "Difference", "Noise",
                                                 "Findings"};
  return kNames[static_cast<int>(layer)];
}

std::optional<ReplayLayer> replay_layer_of(std::string_view name) {
  constexpr const char* kWords[kReplayLayers] = {"raw", "baseline", "difference", "noise",
                                                 "findings"};
  for (int n = 0; n < kReplayLayers; ++n)
    if (name == kWords[n]) return static_cast<ReplayLayer>(n);
  return std::nullopt;
}

std::string compared_with(const DumpIndex& index) {
  const Engine& engine = index.engine();
  if (has_baseline(engine)) return "against the baseline";
  if (compares_reading(index)) return "against the factory reference";
  return has_last_look(engine) ? "as the last look found it" : "";
}

NodeLayer layer_values(const DumpIndex& index, ReplayLayer layer) {
  switch (layer) {
    case ReplayLayer::raw: {
      const std::vector<std::uint16_t>& raw = index.moment().frame.raw;
      if (raw.empty()) return nothing("This dump holds differences only, no raw counts.");
      return counts_layer({raw.begin(), raw.end()}, index.engine().settings().counts_rise,
                          index.engine().settings().counts_rise
                              ? "Raw counts in thousands. Dark: more, as under a finger."
                              : "Raw counts in thousands. Dark: fewer, as under a finger.");
    }
    case ReplayLayer::baseline:
      return baseline_layer(index);
    case ReplayLayer::difference:
      return difference_layer(index);
    case ReplayLayer::noise:
      return noise_layer(index);
    case ReplayLayer::findings:
      break;
  }
  return findings_layer(index);
}

}  // namespace bareglass::view
