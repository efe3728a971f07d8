// The glass of the replay: a layer over it, what was found, what is touched.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/view/replay_page.hpp"
#include "finding_drawing.hpp"
#include "glass_canvas.hpp"
#include "replay_drawing.hpp"
#include "touch_drawing.hpp"

namespace bareglass::view {

namespace {

constexpr float kSignLessCell = 30.0F;  ///< points; smaller cells of draw_layer hold no number
/// Share of a finger below which a node's sign is not worth a mark, percent.
constexpr float kSignFrom = 4.0F;

float narrow(double value) { return static_cast<float>(value); }

LayerValues to_draw(const NodeLayer& layer) {
  return {layer.share,         layer.shown,       layer.digits, layer.legend_low,
          layer.legend_middle, layer.legend_high, {},           layer.diverging};
}

GlassFrame frame_of(const Settings& s) {
  GlassFrame f;
  f.rows = s.shape.rows;
  f.columns = s.shape.cols;
  f.pitch_row_mm = s.pitch_row_um / 1000.0;
  f.pitch_col_mm = s.pitch_col_um / 1000.0;
  return f;
}

/// Where cells are too small for numbers: a bar on falling, a cross on rising nodes.
void draw_signs(ImDrawList& list, const Theme& theme, const GlassFrame& f, const NodeLayer& v) {
  const float w = narrow(f.pitch_col_mm) * f.px_per_mm;
  const float h = narrow(f.pitch_row_mm) * f.px_per_mm;
  const float arm = std::floor(0.22F * std::min(w, h));
  if (!v.diverging || v.share.empty() || arm < 1.0F || std::min(w, h) >= theme.px(kSignLessCell))
    return;
  for (int r = 0; r < f.rows; ++r)
    for (int c = 0; c < f.columns; ++c) {
      const auto k = static_cast<std::size_t>(r * f.columns + c);
      if (std::abs(v.shown[k]) < kSignFrom || std::abs(v.share[k]) < 0.12F) continue;
      const ImVec2 at = f.at({c * f.pitch_col_mm, r * f.pitch_row_mm});
      const ImVec2 p{std::floor(at.x), std::floor(at.y)};
      const ImU32 ink = std::abs(v.share[k]) > 0.6F ? IM_COL32_WHITE : colour::kInk;
      list.AddRectFilled({p.x - arm, p.y}, {p.x + arm + 1, p.y + 1}, ink);
      if (v.shown[k] > 0.0F) list.AddRectFilled({p.x, p.y - arm}, {p.x + 1, p.y + arm + 1}, ink);
    }
}

/// How wide and high the lines' area is, written into the bezel.
void draw_sizes(ImDrawList& list, const Theme& theme, const GlassFrame& f) {
  const ImU32 pale = IM_COL32(214, 216, 220, 255);
  const float half = theme.px(13);
  const double width_mm = f.columns * f.pitch_col_mm;
  const double height_mm = f.rows * f.pitch_row_mm;
  std::string wide = fmt::format("{:.0f} mm wide, {:.0f} mm high", width_mm, height_mm);
  const ImVec2 size = theme.small->CalcTextSizeA(theme.small->FontSize, 1e6F, 0, wide.c_str());
  if (size.x > f.high().x - f.low().x + theme.px(40))
    wide = fmt::format("{:.0f} x {:.0f} mm", width_mm, height_mm);
  text_in_middle(list, theme.small, {0.5F * (f.low().x + f.high().x), f.high().y + half}, pale,
                 wide.c_str());
}

/// Closed, from mm of the lines' area; dashed: every second part of a few millimetres.
void draw_ring(ImDrawList& list, const GlassFrame& f, const host::GlassOutline& ring, ImU32 ink,
               float thick, bool dashed) {
  const auto at = [&](const host::GlassPoint& p) {
    return ImVec2{f.low().x + narrow(p.x) * f.px_per_mm, f.low().y + narrow(p.y) * f.px_per_mm};
  };
  for (std::size_t k = 0; k < ring.size(); ++k)
    if (!dashed || k % 2 == 0)
      list.AddLine(at(ring[k]), at(ring[(k + 1) % ring.size()]), ink, thick);
}

/// A thing as the panel's model has it, with the bounds of its outline and its area.
void draw_pieces(ImDrawList& list, const Theme& theme, const GlassFrame& f,
                 const std::vector<host::PieceFound>& pieces) {
  for (const host::PieceFound& p : pieces) {
    for (const auto* bounds : {&p.inner, &p.outer})
      for (const host::GlassOutline& ring : *bounds)
        draw_ring(list, f, ring, colour::kAccent, theme.px(1), true);
    for (const host::GlassOutline& ring : p.outlines) {
      draw_ring(list, f, ring, IM_COL32_WHITE, theme.px(5), false);
      draw_ring(list, f, ring, colour::kAccent, theme.px(2.5F), false);
    }
  }
}

/// The place that an answer or a sentence speaks of, where no finding of the moment shows it.
void draw_marked(ImDrawList& list, const Theme& theme, const GlassFrame& f, const Engine& engine,
                 const MarkedPlace& place) {
  if (!place.pieces.empty()) return draw_pieces(list, theme, f, place.pieces);
  if (!place.lines) return outline_box(list, theme, f, place.box, colour::kAccent);
  const LineFigure figure = figure_of(place.cause, *place.lines);
  for (const Finding& finding : engine.findings()) {
    const bool shown = !finding.gone && finding.confirmed && is_line_kind(finding.kind) &&
                       finding.lines.of_rows == figure.lines.of_rows &&
                       finding.lines.first <= figure.lines.last &&
                       finding.lines.last >= figure.lines.first;
    if (shown) return;
  }
  draw_lines(list, theme, f, figure, colour::kAccent);
}

std::vector<BenchContact> contacts_of(const Engine& engine, const GlassFrame& f) {
  std::vector<BenchContact> out;
  for (const Contact& c : engine.contacts()) {
    if (!c.tip) continue;
    BenchContact contact;
    contact.id = c.id;
    contact.x_mm = c.x_q8 / 256.0 * f.pitch_col_mm;
    contact.y_mm = c.y_q8 / 256.0 * f.pitch_row_mm;
    contact.percent = 100.0 * c.strength / engine.settings().finger_counts;
    contact.made = true;
    out.push_back(contact);
  }
  return out;
}

}  // namespace

void ReplayPage::draw_layer_buttons(const Theme& theme, float width) {
  const float gap = theme.px(6);
  const float button = (width - narrow(kReplayLayers - 1) * gap) / narrow(kReplayLayers);
  const bool small = button < theme.px(84);
  if (small) {
    ImGui::PushFont(theme.small);
    ImGui::PushStyleVar(ImGuiStyleVar_FramePadding, {0, theme.px(4)});
  }
  for (int n = 0; n < kReplayLayers; ++n) {
    const auto which = static_cast<ReplayLayer>(n);
    if (n > 0) ImGui::SameLine(0, gap);
    const bool on = model_->layer() == which;
    if (on) {
      ImGui::PushStyleColor(ImGuiCol_Button, colour::kAccent);
      ImGui::PushStyleColor(ImGuiCol_Text, IM_COL32_WHITE);
    }
    if (ImGui::Button(name_of(which), {button, theme.px(28)})) model_->show(which);
    if (on) ImGui::PopStyleColor(2);
  }
  if (small) {
    ImGui::PopStyleVar();
    ImGui::PopFont();
  }
}

void ReplayPage::draw_glass(const Theme& theme, Area area) {
  begin_area("glass", area.x, area.y, area.w, area.h, false);
  draw_layer_buttons(theme, area.w);
  const ImVec2 corner = ImGui::GetWindowPos();
  const ImVec2 low{corner.x, corner.y + theme.px(36)};
  const ImVec2 high{corner.x + area.w, corner.y + area.h - theme.px(54)};
  const GlassFrame f = fit_glass(frame_of(model_->account().settings), low, high, theme);
  origin_ = f.origin;
  step_x_ = narrow(f.pitch_col_mm) * f.px_per_mm;
  step_y_ = narrow(f.pitch_row_mm) * f.px_per_mm;
  ImDrawList& list = *ImGui::GetWindowDrawList();
  view::draw_glass(list, theme, f);
  const NodeLayer& values = model_->values();
  const LayerValues drawn = to_draw(values);
  draw_layer(list, theme, f, drawn);
  draw_signs(list, theme, f, values);
  draw_sizes(list, theme, f);
  if (model_->marked()) draw_marked(list, theme, f, model_->engine(), *model_->marked());
  LabelRack rack(corner.x, corner.x + area.w);
  draw_findings(list, theme, f, model_->engine(), model_->moment().frame.t_us, false, rack);
  if (const host::TouchTest* test = model_->touch_test())
    draw_touch_targets(list, theme, *test, [&](host::PointMm p) {
      // A plan counts from the corner of the lines' area.
      return ImVec2{f.low().x + narrow(p.x) * f.px_per_mm, f.low().y + narrow(p.y) * f.px_per_mm};
    });
  draw_contacts(list, theme, f, contacts_of(model_->engine(), f));
  take_mouse(f.low(), f.high());
  const int node = model_->node();
  const ImVec2 cell =
      f.at({(node % f.columns) * f.pitch_col_mm, (node / f.columns) * f.pitch_row_mm});
  const ImVec2 least{cell.x - 0.5F * step_x_, cell.y - 0.5F * step_y_};
  const ImVec2 most{cell.x + 0.5F * step_x_, cell.y + 0.5F * step_y_};
  list.AddRect(least, most, IM_COL32_WHITE, 0, 0, theme.px(4));
  list.AddRect(least, most, colour::kAccent, 0, 0, theme.px(2));
  draw_legend(list, theme, {corner.x, high.y + theme.px(6)}, {corner.x + area.w, corner.y + area.h},
              drawn);
  const bool shown = values.missing.empty();
  list.AddText(theme.small, theme.small->FontSize, {corner.x, high.y + theme.px(shown ? 24 : 8)},
               colour::kInk, shown ? values.says.c_str() : values.missing.c_str(), nullptr, area.w);
  ImGui::EndChild();
}

void ReplayPage::take_mouse(ImVec2 low, ImVec2 high) {
  const ImVec2 mouse = ImGui::GetIO().MousePos;
  const Shape shape = model_->account().settings.shape;
  const bool over = ImGui::IsWindowHovered() && mouse.x >= low.x && mouse.x < high.x &&
                    mouse.y >= low.y && mouse.y < high.y;
  if (!over) {
    model_->point_at(std::nullopt);
    return;
  }
  const int row = std::clamp(static_cast<int>((mouse.y - low.y) / step_y_), 0, shape.rows - 1);
  const int col = std::clamp(static_cast<int>((mouse.x - low.x) / step_x_), 0, shape.cols - 1);
  const int node = row * shape.cols + col;
  model_->point_at(node);
  if (ImGui::IsMouseClicked(0))
    model_->pin(model_->pinned() == node ? std::nullopt : std::optional(node));
}

}  // namespace bareglass::view
