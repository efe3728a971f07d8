#pragma once
// What the core found, outlined on the glass: things as boxes, lines as lines.

#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/core/findings.hpp"
#include "glass_canvas.hpp"

namespace bareglass::view {

/// A box between the outer edges of its nodes, light below `ink` so that it shows on every colour.
void outline_box(ImDrawList& list, const Theme& theme, const GlassFrame& frame, const Box& box,
                 ImU32 ink);

/// What to draw along lines.
struct LineFigure {
  FindingKind kind = FindingKind::open_line;  ///< a line kind
  LinePlace lines;                            ///< with first and last
  bool far_is_dead = true;                    ///< cut_line: what lies behind the cut reads nothing
};
LineFigure figure_of(const Finding& finding, const GlassFrame& frame);
/// Of a cause with lines; the kind of line finding it stands for.
LineFigure figure_of(host::Cause cause, const host::LinesFound& lines);

/// Each line outlined along its whole length, and what is wrong with it drawn into it: strokes
/// across it where it reads nothing, a gap and a cross where it is cut, rungs between joined lines,
/// slanting strokes where it is weak, a bracket round a group, dashes for a line that comes and
/// goes. Through the cuts of several lines runs the crack.
void draw_lines(ImDrawList& list, const Theme& theme, const GlassFrame& frame,
                const LineFigure& figure, ImU32 ink);

/// Labels that must not cover each other.
class LabelRack {
 public:
  /// Labels stay between two x.
  LabelRack(float least_x, float most_x) : least_x_(least_x), most_x_(most_x) {}
  /// Above `low` if there is room, else below `high`, else farther down.
  void put(ImDrawList& list, const Theme& theme, const GlassFrame& frame, ImVec2 low, ImVec2 high,
           ImU32 ink, const std::string& label);

 private:
  float least_x_, most_x_;
  std::vector<float> used_;
};

/// Every finding that is there and confirmed; `lines_only`: those of lines. `now_us`: the frame
/// shown.
void draw_findings(ImDrawList& list, const Theme& theme, const GlassFrame& frame,
                   const Engine& engine, std::uint64_t now_us, bool lines_only, LabelRack& rack);

}  // namespace bareglass::view
