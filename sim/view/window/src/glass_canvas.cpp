#include "glass_canvas.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "bareglass/present/heat_map.hpp"
#include "bareglass/view/bench_words.hpp"

namespace bareglass::view {

namespace {

/// Cells below this size, in points, hold no number.
constexpr float kNumberCell = 30.0F;

float px(double value) { return static_cast<float>(value); }

ImU32 heat(float share, bool diverging) {
  if (diverging) {
    // A panel of 72 x 41 nodes asks 3000 times a frame; 255 steps each way are all that show.
    static const std::array<ImU32, 511> kTable = [] {
      std::array<ImU32, 511> table{};
      for (std::size_t n = 0; n < table.size(); ++n) {
        const host::Rgb c = host::diverging_colour((static_cast<double>(n) - 255.0) / 255.0);
        table[n] = IM_COL32(c.r, c.g, c.b, 255);
      }
      return table;
    }();
    return kTable[static_cast<std::size_t>(255.5F + 255.0F * std::clamp(share, -1.0F, 1.0F))];
  }
  // One sign: from paper to the ink of the accent.
  const float t = std::clamp(share, 0.0F, 1.0F);
  const auto mix = [&](int light, int dark) {
    return static_cast<int>(static_cast<float>(light) + t * static_cast<float>(dark - light));
  };
  return IM_COL32(mix(244, 92), mix(242, 78), mix(234, 132), 255);
}

void text_at(ImDrawList& list, ImFont* font, ImVec2 middle, ImU32 colour, const char* text) {
  const ImVec2 size = font->CalcTextSizeA(font->FontSize, 1e6F, 0.0F, text);
  list.AddText(font, font->FontSize,
               {std::floor(middle.x - 0.5F * size.x), std::floor(middle.y - 0.5F * size.y)}, colour,
               text);
}

}  // namespace

const char* name_of(Layer layer) {
  constexpr const char* kNames[] = {"Glass", "Raw", "Baseline", "Difference"};
  return kNames[static_cast<int>(layer)];
}

ImVec2 GlassFrame::at(field::Point mm) const {
  return {origin.x + px(mm.x) * px_per_mm, origin.y + px(mm.y) * px_per_mm};
}

field::Point GlassFrame::mm(ImVec2 pixel) const {
  return {static_cast<double>((pixel.x - origin.x) / px_per_mm),
          static_cast<double>((pixel.y - origin.y) / px_per_mm)};
}

ImVec2 GlassFrame::low() const { return at({-0.5 * pitch_col_mm, -0.5 * pitch_row_mm}); }
ImVec2 GlassFrame::high() const {
  return at({(columns - 0.5) * pitch_col_mm, (rows - 0.5) * pitch_row_mm});
}

GlassFrame fit_glass(const panel::Scenario& story, ImVec2 low, ImVec2 high, const Theme& theme) {
  GlassFrame f;
  f.rows = story.setup.rows;
  f.columns = story.setup.columns;
  f.pitch_row_mm = story.panel.rows.pitch_mm;
  f.pitch_col_mm = story.panel.columns.pitch_mm;
  return fit_glass(f, low, high, theme);
}

GlassFrame fit_glass(GlassFrame f, ImVec2 low, ImVec2 high, const Theme& theme) {
  const float rim = theme.px(30);
  const float width_mm = px(f.columns * f.pitch_col_mm);
  const float height_mm = px(f.rows * f.pitch_row_mm);
  f.px_per_mm = std::max(0.5F, std::min((high.x - low.x - 2 * rim) / width_mm,
                                        (high.y - low.y - 2 * rim) / height_mm));
  const ImVec2 middle{0.5F * (low.x + high.x), 0.5F * (low.y + high.y)};
  f.origin = {std::floor(middle.x - 0.5F * f.px_per_mm * (width_mm - px(f.pitch_col_mm))),
              std::floor(middle.y - 0.5F * f.px_per_mm * (height_mm - px(f.pitch_row_mm)))};
  return f;
}

void draw_glass(ImDrawList& list, const Theme& theme, const GlassFrame& f) {
  const ImVec2 low = f.low();
  const ImVec2 high = f.high();
  const float rim = theme.px(26);
  list.AddRectFilled({low.x - rim, low.y - rim}, {high.x + rim, high.y + rim}, colour::kBezel);
  list.AddRectFilled(low, high, colour::kGlass);
  const ImU32 faint = IM_COL32(196, 204, 206, 255);
  for (int c = 0; c < f.columns; ++c) {
    const float x = std::floor(f.at({c * f.pitch_col_mm, 0}).x);
    list.AddRectFilled({x, low.y}, {x + 1.0F, high.y}, faint);
  }
  for (int r = 0; r < f.rows; ++r) {
    const float y = std::floor(f.at({0, r * f.pitch_row_mm}).y);
    list.AddRectFilled({low.x, y}, {high.x, y + 1.0F}, faint);
  }
  // The numbers of lines stand in the bezel; on a large panel only every fifth.
  const ImU32 pale = IM_COL32(190, 192, 196, 255);
  const int every_c = px(f.pitch_col_mm) * f.px_per_mm < theme.px(18) ? 5 : 1;
  const int every_r = px(f.pitch_row_mm) * f.px_per_mm < theme.px(18) ? 5 : 1;
  for (int c = 0; c < f.columns; c += every_c)
    text_at(list, theme.small, {f.at({c * f.pitch_col_mm, 0}).x, low.y - 0.5F * rim}, pale,
            std::to_string(c).c_str());
  for (int r = 0; r < f.rows; r += every_r)
    text_at(list, theme.small, {low.x - 0.5F * rim, f.at({0, r * f.pitch_row_mm}).y}, pale,
            std::to_string(r).c_str());
}

namespace {

LayerValues counts_layer(const std::vector<float>& counts, const char* says) {
  LayerValues v;
  const auto [low, high] = std::minmax_element(counts.begin(), counts.end());
  // Less than a tenth of the counts between the extremes is manufacture and noise: it stays pale.
  const float span = std::max(*high - *low, 0.1F * *high);
  for (const float c : counts) {
    v.share.push_back((*high - c) / std::max(span, 1.0F));
    v.shown.push_back(c / 1000.0F);
  }
  v.digits = 1;
  v.legend_low = fmt::format("{:.1f} thousand", *high / 1000.0F);
  v.legend_high = fmt::format("{:.1f} thousand", (*high - span) / 1000.0F);
  v.says = says;
  return v;
}

LayerValues difference_layer(const Engine& device) {
  LayerValues v;
  const View<const std::int16_t> d = device.difference();
  const float finger = static_cast<float>(device.settings().finger_counts);
  const float limit = static_cast<float>(device.limits().touch_on) / finger;
  float full = 2.0F * limit;
  for (const std::int16_t counts : d)
    full = std::max(full, std::abs(static_cast<float>(counts)) / finger);
  // In steps, so that noise does not make the colours breathe.
  full = std::ceil(full * 5.0F) / 5.0F;
  for (const std::int16_t counts : d) {
    const float share = static_cast<float>(counts) / finger;
    v.share.push_back(share / full);
    v.shown.push_back(100.0F * share);
  }
  v.diverging = true;
  v.legend_low = fmt::format("-{:.0f} %", 100.0F * full);
  v.legend_middle = "0";
  v.legend_high = fmt::format("+{:.0f} %", 100.0F * full);
  v.says = "Percent of a finger. Orange: as under a touch. Blue: the other way.";
  return v;
}

}  // namespace

LayerValues layer_values(const BenchModel& bench, Layer layer) {
  const Engine& device = bench.unit().device();
  const std::vector<std::uint16_t>& raw = bench.unit().frame().raw;
  if (layer == Layer::things || !bench.unit().powered() || raw.empty()) return {};
  if (layer == Layer::raw)
    return counts_layer({raw.begin(), raw.end()},
                        "Raw counts in thousands. Dark: fewer, as under a finger.");
  if (device.state() == InputState::settling ||
      (device.state() == InputState::looking && deciding_entry(device) == nullptr))
    return {};
  if (layer == Layer::difference) return difference_layer(device);
  if (device.state() == InputState::looking) return {};
  std::vector<float> counts;
  for (const BaselineQ8 b : device.baseline_q8()) counts.push_back(static_cast<float>(b) / 256.0F);
  return counts_layer(counts, device.input_on()
                                  ? "Baseline in thousands of counts: what counts as untouched."
                                  : "Mean of the last look in thousands of counts.");
}

void draw_layer(ImDrawList& list, const Theme& theme, const GlassFrame& f, const LayerValues& v) {
  if (v.share.empty()) return;
  const float w = px(f.pitch_col_mm) * f.px_per_mm;
  const float h = px(f.pitch_row_mm) * f.px_per_mm;
  const bool numbers = std::min(w, h) >= theme.px(kNumberCell);
  const ImVec2 low = f.low();
  char text[16];
  for (int r = 0; r < f.rows; ++r)
    for (int c = 0; c < f.columns; ++c) {
      const auto k = static_cast<std::size_t>(r * f.columns + c);
      const ImVec2 a{std::floor(low.x + w * px(c)), std::floor(low.y + h * px(r))};
      const ImVec2 b{std::floor(low.x + w * px(c + 1)), std::floor(low.y + h * px(r + 1))};
      list.AddRectFilled(a, {b.x - (numbers ? 1.0F : 0.0F), b.y - (numbers ? 1.0F : 0.0F)},
                         heat(v.share[k], v.diverging));
      if (!numbers || (v.diverging && std::abs(v.shown[k]) < 3.0F)) continue;
      std::snprintf(text, sizeof text, "%.*f", v.digits, static_cast<double>(v.shown[k]));
      const bool dark = std::abs(v.share[k]) > 0.72F;
      text_at(list, theme.small, {0.5F * (a.x + b.x), 0.5F * (a.y + b.y)},
              dark ? IM_COL32_WHITE : colour::kInk, text);
    }
}

void draw_legend(ImDrawList& list, const Theme& theme, ImVec2 low, ImVec2 high,
                 const LayerValues& v) {
  if (v.share.empty()) return;
  constexpr int kPatches = 41;
  const float bar_low = low.x + theme.px(80);
  const float bar_high = std::min(high.x - theme.px(80), bar_low + theme.px(260));
  const float w = (bar_high - bar_low) / static_cast<float>(kPatches);
  const float bottom = low.y + theme.px(14);
  for (int n = 0; n < kPatches; ++n) {
    const float t = static_cast<float>(n) / static_cast<float>(kPatches - 1);
    list.AddRectFilled({std::floor(bar_low + w * static_cast<float>(n)), low.y},
                       {std::floor(bar_low + w * static_cast<float>(n + 1)), bottom},
                       heat(v.diverging ? 2.0F * t - 1.0F : t, v.diverging));
  }
  const float y = 0.5F * (low.y + bottom);
  text_at(list, theme.small, {bar_low - theme.px(40), y}, colour::kInk, v.legend_low.c_str());
  text_at(list, theme.small, {bar_high + theme.px(40), y}, colour::kInk, v.legend_high.c_str());
  if (!v.legend_middle.empty())
    text_at(list, theme.small, {0.5F * (bar_low + bar_high), y}, colour::kInk,
            v.legend_middle.c_str());
  list.AddText(theme.small, theme.small->FontSize, {low.x, bottom + theme.px(3)}, colour::kFaint,
               v.says.c_str());
}

void draw_contacts(ImDrawList& list, const Theme& theme, const GlassFrame& f,
                   const std::vector<BenchContact>& contacts) {
  for (const BenchContact& c : contacts) {
    const ImVec2 p = f.at({c.x_mm, c.y_mm});
    const float r = theme.px(17);
    const ImU32 ink = c.made ? colour::kInk : colour::kOff;
    list.AddCircle(p, r, IM_COL32_WHITE, 28, theme.px(5));
    list.AddCircle(p, r, ink, 28, theme.px(2.5F));
    list.AddLine({p.x - 1.5F * r, p.y}, {p.x - 0.6F * r, p.y}, ink, theme.px(2));
    list.AddLine({p.x + 0.6F * r, p.y}, {p.x + 1.5F * r, p.y}, ink, theme.px(2));
    list.AddLine({p.x, p.y - 1.5F * r}, {p.x, p.y - 0.6F * r}, ink, theme.px(2));
    list.AddLine({p.x, p.y + 0.6F * r}, {p.x, p.y + 1.5F * r}, ink, theme.px(2));
    const std::string label = c.made ? fmt::format("touch {}: {:.0f} %", c.id + 1, c.percent)
                                     : fmt::format("nobody touches: {:.0f} %", c.percent);
    const ImVec2 size = theme.strong->CalcTextSizeA(theme.strong->FontSize, 1e6F, 0, label.c_str());
    ImVec2 at{p.x + 1.2F * r, p.y - 1.2F * r - size.y};
    at.x = std::min(at.x, f.high().x - size.x - theme.px(4));
    at.y = std::max(at.y, f.low().y + theme.px(2));
    list.AddRectFilled({at.x - theme.px(4), at.y - theme.px(1)},
                       {at.x + size.x + theme.px(4), at.y + size.y + theme.px(2)}, ink);
    list.AddText(theme.strong, theme.strong->FontSize, at, IM_COL32_WHITE, label.c_str());
  }
}

void draw_faults(ImDrawList& list, const Theme& theme, const GlassFrame& f,
                 const std::vector<panel::NamedFault>& faults, bool over_numbers) {
  using Kind = panel::LineFault::Kind;
  for (const panel::NamedFault& named : faults) {
    const panel::LineFault& fault = named.second;
    for (int line = fault.first; line <= fault.last; ++line) {
      const auto place = [&](double along) {
        return fault.of_rows ? f.at({along * f.pitch_col_mm, line * f.pitch_row_mm})
                             : f.at({line * f.pitch_col_mm, along * f.pitch_row_mm});
      };
      const double end = (fault.of_rows ? f.columns : f.rows) - 0.5;
      const ImU32 ink = colour::kOff;
      if (fault.kind == Kind::cut) {
        const ImVec2 p = place(fault.at - 0.5);
        const float r = theme.px(7);
        list.AddLine({p.x - r, p.y - r}, {p.x + r, p.y + r}, ink, theme.px(3));
        list.AddLine({p.x - r, p.y + r}, {p.x + r, p.y - r}, ink, theme.px(3));
        if (!over_numbers) list.AddLine(place(fault.at - 0.3), place(end), ink, theme.px(1.5F));
        continue;
      }
      const ImVec2 from = place(-0.5);
      const float thick = theme.px(fault.kind == Kind::raised_resistance ? 3.0F : 1.5F);
      if (!over_numbers) list.AddLine(from, place(end), ink, thick);
      // On the side away from the lines' numbers.
      const ImVec2 mark = place(end + 0.4);
      list.AddRectFilled({mark.x - theme.px(6), mark.y - theme.px(6)},
                         {mark.x + theme.px(6), mark.y + theme.px(6)}, ink);
      text_at(list, theme.small, mark, IM_COL32_WHITE,
              fault.kind == Kind::open_tail ? "o"
              : fault.kind == Kind::bridged ? "="
                                            : "R");
    }
  }
}

}  // namespace bareglass::view
