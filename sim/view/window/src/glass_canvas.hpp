#pragma once
// The glass, to scale: what lies on it, what the panel makes of it, what the device reports.

#include <string>
#include <vector>

#include "bareglass/view/bench_page.hpp"
#include "bareglass/view/theme.hpp"

namespace bareglass::view {

/// Where millimetres lie on the screen.
struct GlassFrame {
  ImVec2 origin{0, 0};  ///< centre of node (0, 0), pixels
  float px_per_mm = 1.0F;
  int rows = 0, columns = 0;
  double pitch_row_mm = 5.0, pitch_col_mm = 5.0;

  ImVec2 at(field::Point mm) const;
  field::Point mm(ImVec2 pixel) const;
  /// Corners of the lines' area: half a pitch beyond the outer nodes.
  ImVec2 low() const;
  ImVec2 high() const;
};

/// The largest glass that fits between two corners, bezel included; `panel` names lines and
/// pitches.
GlassFrame fit_glass(GlassFrame panel, ImVec2 low, ImVec2 high, const Theme& theme);
GlassFrame fit_glass(const panel::Scenario& story, ImVec2 low, ImVec2 high, const Theme& theme);

/// Glass, bezel and the numbers of lines.
void draw_glass(ImDrawList& list, const Theme& theme, const GlassFrame& frame);

/// One value for every node.
struct LayerValues {
  std::vector<float> share;  ///< -1..1 of the full colour; row-major
  std::vector<float> shown;  ///< number to write into a cell
  int digits = 0;            ///< behind the point, in a cell
  std::string legend_low, legend_middle, legend_high;
  std::string says;        ///< what the colours mean, one line
  bool diverging = false;  ///< two signs
};
/// Nothing to show (off, or looking for the first time): empty.
LayerValues layer_values(const BenchModel& bench, Layer layer);
void draw_layer(ImDrawList& list, const Theme& theme, const GlassFrame& frame,
                const LayerValues& values);
void draw_legend(ImDrawList& list, const Theme& theme, ImVec2 low, ImVec2 high,
                 const LayerValues& values);

/// A thing as what it is. `seen_through`: only its outline and a hint of its colour.
void draw_thing(ImDrawList& list, const Theme& theme, const GlassFrame& frame,
                const panel::ThingSpec& spec, const panel::ThingState& state, bool seen_through,
                bool selected);
/// Its name at its upper left corner.
void draw_name(ImDrawList& list, const Theme& theme, const GlassFrame& frame,
               const panel::ThingSpec& spec, const panel::ThingState& state);
/// The sign of a shelf item, for its button.
void draw_icon(ImDrawList& list, ImVec2 middle, float size, panel::Look look);
void draw_contacts(ImDrawList& list, const Theme& theme, const GlassFrame& frame,
                   const std::vector<BenchContact>& contacts);
/// Cuts, open and joined lines, at their place; `over_numbers`: without strokes along the lines.
void draw_faults(ImDrawList& list, const Theme& theme, const GlassFrame& frame,
                 const std::vector<panel::NamedFault>& faults, bool over_numbers);

}  // namespace bareglass::view
