#include "finding_drawing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/view/plain_words.hpp"
#include "replay_drawing.hpp"

namespace bareglass::view {

namespace {

/// Half the breadth of a line's outline, in pitches across it.
constexpr double kHalf = 0.3;

struct Corners {
  ImVec2 low, high;
};

Corners corners_of(const GlassFrame& f, const Box& b) {
  return {f.at({(b.col0 - 0.5) * f.pitch_col_mm, (b.row0 - 0.5) * f.pitch_row_mm}),
          f.at({(b.col1 + 0.5) * f.pitch_col_mm, (b.row1 + 0.5) * f.pitch_row_mm})};
}

/// Draws in the lines' own directions: along them and across them, in pitches.
class LinePen {
 public:
  LinePen(ImDrawList& list, const Theme& theme, const GlassFrame& frame, bool of_rows, ImU32 ink)
      : list_(list), theme_(theme), frame_(frame), of_rows_(of_rows), ink_(ink) {}

  /// Crossings of a line.
  int crossings() const { return of_rows_ ? frame_.columns : frame_.rows; }
  ImVec2 at(double along, double across) const {
    return of_rows_ ? frame_.at({along * frame_.pitch_col_mm, across * frame_.pitch_row_mm})
                    : frame_.at({across * frame_.pitch_col_mm, along * frame_.pitch_row_mm});
  }
  void stroke(double along0, double across0, double along1, double across1, float points) const {
    const ImVec2 a = at(along0, across0);
    const ImVec2 b = at(along1, across1);
    list_.AddLine(a, b, IM_COL32_WHITE, theme_.px(points + 2.0F));
    list_.AddLine(a, b, ink_, theme_.px(points));
  }
  void box(double along0, double along1, double line) const {
    const ImVec2 a = at(along0, line - kHalf);
    const ImVec2 b = at(along1, line + kHalf);
    list_.AddRect(a, b, IM_COL32_WHITE, 0, 0, theme_.px(4.5F));
    list_.AddRect(a, b, ink_, 0, 0, theme_.px(2.0F));
  }
  /// The outline in dashes of half a pitch.
  void dashed_box(double along0, double along1, double line) const {
    for (const double side : {line - kHalf, line + kHalf})
      for (double from = along0; from < along1; from += 1.0)
        stroke(from, side, std::min(from + 0.5, along1), side, 2.0F);
  }
  /// Strokes across the line, `slant` pitches forward, one a pitch; fewer on a small glass.
  void strokes_across(double along0, double along1, double line, double slant) const {
    const ImVec2 a = at(0, 0);
    const ImVec2 b = at(1, 0);
    const double every = std::abs(b.x - a.x) + std::abs(b.y - a.y) < theme_.px(20) ? 2.0 : 1.0;
    for (double from = along0 + 0.25; from + slant < along1; from += every)
      stroke(from, line + kHalf, from + slant, line - kHalf, 1.5F);
  }
  void cross(double along, double line) const {
    const ImVec2 p = at(along, line);
    const float r = theme_.px(6);
    for (const float points : {5.0F, 2.5F}) {
      const ImU32 ink = points > 3.0F ? IM_COL32_WHITE : ink_;
      list_.AddLine({p.x - r, p.y - r}, {p.x + r, p.y + r}, ink, theme_.px(points));
      list_.AddLine({p.x - r, p.y + r}, {p.x + r, p.y - r}, ink, theme_.px(points));
    }
  }

 private:
  ImDrawList& list_;
  const Theme& theme_;
  const GlassFrame& frame_;
  bool of_rows_;
  ImU32 ink_;
};

/// Where a line of a crack is cut, in pitches along it; the core names its two ends.
double cut_along(const LinePlace& lines, int line) {
  if (lines.at == kNoLine) return -0.5;
  if (lines.first == lines.last || lines.at_last == kNoLine) return lines.at - 0.5;
  const double share =
      static_cast<double>(line - lines.first) / static_cast<double>(lines.last - lines.first);
  return std::round(lines.at + share * (lines.at_last - lines.at)) - 0.5;
}

void draw_cut(const LinePen& pen, const LineFigure& figure) {
  const double end = pen.crossings() - 0.5;
  constexpr double kGap = 0.18;
  for (int line = figure.lines.first; line <= figure.lines.last; ++line) {
    const double cut = cut_along(figure.lines, line);
    pen.box(-0.5, cut - kGap, line);
    pen.box(cut + kGap, end, line);
    if (figure.far_is_dead)
      pen.strokes_across(cut + kGap, end, line, 0.0);
    else
      pen.strokes_across(-0.5, cut - kGap, line, 0.0);
  }
  for (int line = figure.lines.first; line <= figure.lines.last; ++line) {
    if (line < figure.lines.last)
      pen.stroke(cut_along(figure.lines, line), line, cut_along(figure.lines, line + 1), line + 1,
                 3.0F);
    pen.cross(cut_along(figure.lines, line), line);
  }
}

void draw_joined(const LinePen& pen, const LineFigure& figure) {
  const double end = pen.crossings() - 0.5;
  for (int line = figure.lines.first; line <= figure.lines.last; ++line) pen.box(-0.5, end, line);
  for (int line = figure.lines.first; line < figure.lines.last; ++line)
    for (double along = 0.0; along < end; along += 1.0)
      pen.stroke(along, line + kHalf, along, line + 1 - kHalf, 2.0F);
}

void draw_whole(const LinePen& pen, const LineFigure& figure) {
  const double end = pen.crossings() - 0.5;
  for (int line = figure.lines.first; line <= figure.lines.last; ++line) {
    if (figure.kind == FindingKind::intermittent_line)
      pen.dashed_box(-0.5, end, line);
    else
      pen.box(-0.5, end, line);
    if (figure.kind == FindingKind::open_line) pen.strokes_across(-0.5, end, line, 0.0);
    if (figure.kind == FindingKind::raised_resistance || figure.kind == FindingKind::tail_group)
      pen.strokes_across(-0.5, end, line, 0.5);
  }
  if (figure.lines.first == figure.lines.last) return;
  // A bracket on the side where the lines' numbers stand.
  pen.stroke(-0.7, figure.lines.first - kHalf, -0.7, figure.lines.last + kHalf, 4.0F);
}

FindingKind line_kind_of(host::Cause cause) {
  switch (cause) {
    case host::Cause::crack:
      return FindingKind::cut_line;
    case host::Cause::bridged_lines:
      return FindingKind::bridged_lines;
    case host::Cause::raised_resistance:
      return FindingKind::raised_resistance;
    case host::Cause::worn_tail:
      return FindingKind::tail_group;
    case host::Cause::intermittent_line:
      return FindingKind::intermittent_line;
    default:
      return FindingKind::open_line;
  }
}

Box whole_lines(const GlassFrame& f, const LinePlace& lines) {
  const auto last = [](int n) { return static_cast<std::uint8_t>(n - 1); };
  return lines.of_rows ? Box{lines.first, lines.last, 0, last(f.columns)}
                       : Box{0, last(f.rows), lines.first, lines.last};
}

}  // namespace

void outline_box(ImDrawList& list, const Theme& theme, const GlassFrame& f, const Box& box,
                 ImU32 ink) {
  const Corners c = corners_of(f, box);
  list.AddRect(c.low, c.high, IM_COL32_WHITE, 0, 0, theme.px(5));
  list.AddRect(c.low, c.high, ink, 0, 0, theme.px(2.5F));
}

LineFigure figure_of(const Finding& finding, const GlassFrame& f) {
  LineFigure figure{finding.kind, finding.lines, true};
  // The box holds what reads nothing.
  const Box& b = finding.box;
  const int low = finding.lines.of_rows ? b.col0 : b.row0;
  const int high = finding.lines.of_rows ? b.col1 : b.row1;
  const int end = (finding.lines.of_rows ? f.columns : f.rows) - 1;
  figure.far_is_dead = low > 0 || high >= end;
  return figure;
}

LineFigure figure_of(host::Cause cause, const host::LinesFound& lines) {
  LineFigure figure;
  figure.kind = line_kind_of(cause);
  figure.lines.of_rows = lines.of_rows;
  figure.lines.first = static_cast<std::uint8_t>(lines.first);
  figure.lines.last = static_cast<std::uint8_t>(lines.last);
  if (lines.at >= 0) figure.lines.at = static_cast<std::uint8_t>(lines.at);
  if (figure.kind == FindingKind::cut_line && lines.at < 0) figure.kind = FindingKind::open_line;
  return figure;
}

void draw_lines(ImDrawList& list, const Theme& theme, const GlassFrame& f, const LineFigure& figure,
                ImU32 ink) {
  const LinePen pen(list, theme, f, figure.lines.of_rows, ink);
  if (figure.kind == FindingKind::cut_line && figure.lines.at != kNoLine)
    draw_cut(pen, figure);
  else if (figure.kind == FindingKind::bridged_lines)
    draw_joined(pen, figure);
  else
    draw_whole(pen, figure);
}

void LabelRack::put(ImDrawList& list, const Theme& theme, const GlassFrame& f, ImVec2 low,
                    ImVec2 high, ImU32 ink, const std::string& label) {
  const float tall = theme.px(20);
  const auto taken = [&](float at) {
    return at < f.low().y || std::any_of(used_.begin(), used_.end(),
                                         [&](float other) { return std::abs(other - at) < tall; });
  };
  float y = low.y - theme.px(22);
  if (taken(y)) y = high.y + theme.px(3);
  while (taken(y)) y += tall;
  used_.push_back(y);
  boxed_text(list, theme, {low.x, y}, least_x_, most_x_, ink, label.c_str());
}

void draw_findings(ImDrawList& list, const Theme& theme, const GlassFrame& f, const Engine& engine,
                   std::uint64_t now_us, bool lines_only, LabelRack& rack) {
  for (const Finding& finding : engine.findings()) {
    if (finding.gone || !finding.confirmed) continue;
    const bool of_lines = is_line_kind(finding.kind) && finding.lines.first != kNoLine;
    if (lines_only && !of_lines) continue;
    if (of_lines)
      draw_lines(list, theme, f, figure_of(finding, f), colour::kInk);
    else
      outline_box(list, theme, f, finding.box, colour::kInk);
    std::string label = label_of(finding, engine.settings());
    // While input is off a finding is as old as the last look.
    if (!finding.in_baseline && finding.last_us + 2 * engine.settings().frame_period_us < now_us)
      label +=
          fmt::format(", seen {:.1f} s ago", static_cast<double>(now_us - finding.last_us) / 1e6);
    const Corners c = corners_of(f, of_lines ? whole_lines(f, finding.lines) : finding.box);
    rack.put(list, theme, f, c.low, c.high, colour::kInk, label);
  }
}

}  // namespace bareglass::view
