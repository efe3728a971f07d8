// One node over the whole dump: what it read, what it was compared with, the limits.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/view/replay_page.hpp"
#include "replay_drawing.hpp"

namespace bareglass::view {

namespace {

struct Plot {
  ImVec2 low, high;
  double end_us = 1;
  float least = 0, most = 1;  ///< counts

  float x(std::uint64_t at_us) const {
    return low.x + (high.x - low.x) * static_cast<float>(static_cast<double>(at_us) / end_us);
  }
  float y(float counts) const {
    return high.y - (high.y - low.y) * (counts - least) / std::max(most - least, 1.0F);
  }
};

/// What a reading is compared with, counts; negative: nothing.
float compared(const NodeHistory::Point& p, float reference) {
  return p.has_baseline ? static_cast<float>(p.baseline) : reference;
}

void fit(Plot& plot, const NodeHistory& history, std::size_t node, float reference, float limit) {
  plot.least = 1e9F;
  plot.most = -1e9F;
  const auto take = [&](float counts) {
    plot.least = std::min(plot.least, counts);
    plot.most = std::max(plot.most, counts);
  };
  for (std::size_t n = 0; n < history.size(); ++n) {
    const NodeHistory::Point p = history.point(n, node);
    take(static_cast<float>(p.raw));
    const float with = compared(p, reference);
    if (with < 0) continue;
    take(with + limit);
    take(with - limit);
  }
  const float rim = 0.08F * std::max(plot.most - plot.least, 10.0F);
  plot.least = std::max(plot.least - rim, 0.0F);
  plot.most += rim;
}

/// One upright stroke a pixel: least to greatest of what falls on it.
void draw_readings(ImDrawList& list, const Theme& theme, const Plot& plot,
                   const NodeHistory& history, std::size_t node) {
  float column = -1.0F;
  float least = 0.0F;
  float most = 0.0F;
  const float thick = std::max(1.0F, theme.px(1.5F));
  const auto stroke = [&] {
    if (column >= 0.0F)
      list.AddRectFilled({column, std::floor(plot.y(most))},
                         {column + thick, std::floor(plot.y(least)) + thick}, colour::kInk);
  };
  float last = 0.0F;
  for (std::size_t n = 0; n < history.size(); ++n) {
    const NodeHistory::Point p = history.point(n, node);
    const float x = std::floor(plot.x(p.at_us));
    const auto raw = static_cast<float>(p.raw);
    if (x != column) {
      stroke();
      // Frames farther apart than a pixel are joined by a level line and a step.
      if (column >= 0.0F && x > column + thick)
        list.AddRectFilled({column, std::floor(plot.y(last))},
                           {x, std::floor(plot.y(last)) + thick}, colour::kInk);
      least = n > 0 ? std::min(last, raw) : raw;
      most = n > 0 ? std::max(last, raw) : raw;
      column = x;
    }
    least = std::min(least, raw);
    most = std::max(most, raw);
    last = raw;
  }
  stroke();
}

/// A level of every moment, solid or dashed; moments without one are left out.
template <typename Level>
void draw_level(ImDrawList& list, const Theme& theme, const Plot& plot, const NodeHistory& history,
                std::size_t node, ImU32 ink, float dash, Level level) {
  float column = plot.low.x;
  for (std::size_t n = 0; n < history.size(); ++n) {
    const NodeHistory::Point p = history.point(n, node);
    const float to =
        n + 1 < history.size() ? plot.x(history.point(n + 1, node).at_us) : plot.high.x;
    const float counts = level(p);
    const float y = std::floor(plot.y(counts));
    if (counts < 0 || y < plot.low.y || y > plot.high.y) {
      column = to;
      continue;
    }
    for (; column < to; column += 2.0F) {
      if (dash > 0.0F && std::fmod(column - plot.low.x, 2.0F * dash) >= dash) continue;
      list.AddRectFilled({column, y}, {std::min(column + 2.0F, plot.high.x), y + theme.px(1.5F)},
                         ink);
    }
  }
}

}  // namespace

void ReplayPage::draw_history(const Theme& theme, Area area) {
  begin_area("history", area.x, area.y, area.w, area.h, true);
  const Settings& s = model_->account().settings;
  const int node = model_->node();
  const int row = node / s.shape.cols;
  const int col = node % s.shape.cols;
  const auto index = static_cast<std::size_t>(node);
  ImGui::PushFont(theme.strong);
  ImGui::TextUnformatted(fmt::format("Node at row {}, column {}", row, col).c_str());
  ImGui::PopFont();
  ImGui::SameLine();
  ImGui::TextDisabled("(%.0f mm from the left, %.0f mm from the top)",
                      (col + 0.5) * s.pitch_col_um / 1000.0, (row + 0.5) * s.pitch_row_um / 1000.0);
  const std::vector<std::uint16_t>& raw = model_->moment().frame.raw;
  const NodeHistory& history = model_->index().history();
  if (raw.empty() || history.size() == 0) {
    ImGui::TextUnformatted("This dump holds differences only: a node has no readings to show.");
    ImGui::EndChild();
    return;
  }
  const View<const std::uint16_t> known = model_->index().reference();
  const float reference = known.empty() ? -1.0F : static_cast<float>(known[index]);
  const float limit = static_cast<float>(model_->engine().limits().surface);
  const ImVec2 corner = ImGui::GetWindowPos();
  Plot plot;
  plot.low = {corner.x + theme.px(62), corner.y + theme.px(32)};
  plot.high = {corner.x + area.w - theme.px(14), corner.y + area.h - theme.px(28)};
  plot.end_us = static_cast<double>(std::max<std::uint64_t>(1, model_->end_us()));
  fit(plot, history, index, reference, limit);
  ImDrawList& list = *ImGui::GetWindowDrawList();
  list.AddRectFilled(plot.low, plot.high, IM_COL32(247, 246, 241, 255));
  const auto with = [&](const NodeHistory::Point& p) { return compared(p, reference); };
  draw_level(list, theme, plot, history, index, colour::kOff, theme.px(6),
             [&](const auto& p) { return with(p) < 0 ? -1.0F : with(p) - limit; });
  draw_level(list, theme, plot, history, index, colour::kOff, theme.px(6),
             [&](const auto& p) { return with(p) < 0 ? -1.0F : with(p) + limit; });
  draw_level(list, theme, plot, history, index, colour::kOn, 0.0F, with);
  draw_readings(list, theme, plot, history, index);
  const float now = std::floor(plot.x(model_->at_us()));
  list.AddRectFilled({now, plot.low.y}, {now + theme.px(2), plot.high.y}, colour::kAccent);
  for (const float counts : {plot.least, plot.most}) {
    const float y = counts == plot.least ? plot.high.y - theme.px(14) : plot.low.y;
    list.AddText(theme.small, theme.small->FontSize, {corner.x + theme.px(8), y}, colour::kFaint,
                 fmt::format("{:.0f}", counts).c_str());
  }
  const int is = raw[index];
  std::string words = fmt::format("Black: {} now", is);
  if (reference >= 0 || has_baseline(model_->engine())) {
    const float base = has_baseline(model_->engine())
                           ? static_cast<float>(model_->engine().baseline_q8()[index]) / 256.0F
                           : reference;
    const float sign = s.counts_rise ? -1.0F : 1.0F;
    words += fmt::format(
        ", {:+.0f} % of a finger. Green: {}. Dashed: limits.",
        100.0F * sign * (base - static_cast<float>(is)) / static_cast<float>(s.finger_counts),
        reference >= 0 ? "untouched" : "baseline");
  }
  list.AddText(theme.small, theme.small->FontSize,
               {corner.x + theme.px(8), corner.y + area.h - theme.px(22)}, colour::kInk,
               words.c_str());
  ImGui::EndChild();
}

}  // namespace bareglass::view
