#include "bareglass/field/panel_spec.hpp"

namespace bareglass::field {

double PanelSpec::total_thickness() const { return height_below(-1); }

double PanelSpec::height_below(int index) const {
  double height = 0.0;
  for (int i = static_cast<int>(layers.size()) - 1; i > index; --i)
    height += layers[static_cast<std::size_t>(i)].thickness_mm;
  return height;
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
