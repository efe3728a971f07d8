#include "bareglass/field/panel_spec.hpp"

#include <cmath>

#include "bareglass/field/axis.hpp"

namespace bareglass::field {

double PanelSpec::total_thickness() const { return height_below(-1); }

double PanelSpec::height_below(int index) const {
  double height = 0.0;
  for (int i = static_cast<int>(layers.size()) - 1; i > index; --i)
    height += layers[static_cast<std::size_t>(i)].thickness_mm;
  return height;
}

void PanelSpec::set_diamonds(const Diamonds& pattern) {
  diamonds = pattern;
  const double tip_to_tip = pattern.pitch_mm - std::sqrt(2.0) * pattern.gap_mm;
  rows = columns = {pattern.pitch_mm, tip_to_tip, pattern.under};
}

double PanelSpec::squares_per_crossing(bool of_rows) const {
  if (!diamonds)
    return of_rows ? columns.pitch_mm / rows.width_mm : rows.pitch_mm / columns.width_mm;
  // From the neck, w wide and g / sqrt 2 + w / 2 long on either side of the crossing, the width
  // grows by 2 mm a millimetre up to the middle of the diamond: 1/2 ln(widest / w) squares each.
  const double widest = diamonds->pitch_mm - std::sqrt(2.0) * diamonds->gap_mm;
  const double neck = of_rows ? diamonds->neck_mm : diamonds->bridge_mm;
  const double length = std::sqrt(2.0) * diamonds->gap_mm + diamonds->neck_mm;
  return std::log(widest / diamonds->neck_mm) + length / neck;
}

double Diamonds::bridge_ff() const {
  return kEps0 * insulator_permittivity * bridge_mm * neck_mm / (insulator_um * 1e-3);
}

PanelSpec diamond_panel(double cover_mm) {
  PanelSpec panel;
  panel.name = "diamonds";
  panel.layers = {{"cover glass", cover_mm, 7.0},
                  {"adhesive", 0.15, 3.3},
                  {"sensor glass", 0.5, 7.0},
                  {"air gap", 0.5, 1.0}};
  Diamonds pattern;
  pattern.under = 1;
  panel.set_diamonds(pattern);
  panel.surroundings_mm = 25.0;
  return panel;
}

PanelSpec reference_panel(double cover_mm) {
  PanelSpec panel;
  panel.name = "bars and stripes";
  panel.layers = {{"cover glass", cover_mm, 7.0},
                  {"adhesive", 0.15, 3.3},
                  {"dielectric", 0.2, 3.2},
                  {"air gap", 0.5, 1.0}};
  panel.rows = {5.0, 4.8, 2};
  panel.columns = {5.0, 1.0, 1};
  panel.surroundings_mm = 25.0;
  return panel;
}

}  // namespace bareglass::field
