#pragma once
// What a panel is made of: the layer stack, the electrodes, and things lying flat on the glass.

#include <stdexcept>
#include <string>
#include <vector>

namespace bareglass::field {

/// A panel file that cannot be used; what() names the file, the line, the key and what it should
/// have been.
class PanelError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// One plane layer.
struct Layer {
  std::string name;
  double thickness_mm = 0.0;  ///< 0.01..50
  double permittivity = 1.0;  ///< relative, 1..200
};

/// Parallel strip electrodes, all alike, at k * pitch.
struct Lines {
  double pitch_mm = 5.0;  ///< 1..20
  double width_mm = 1.0;  ///< 0.1 to pitch - 0.05
  int under = 0;          ///< index of the layer at whose lower face they lie
};

/// A bars-and-stripes panel: wide drive bars (rows) below narrow sense stripes (columns), above a
/// grounded display plane. Rows run along x and are spaced in y; columns the other way round.
struct PanelSpec {
  std::string name;
  std::vector<Layer> layers;  ///< from the cover glass down to the display plane, 2..12
  Lines rows;
  Lines columns;
  /// Height of grounded surroundings above the glass, mm (5..1000); 0: none, the air above ends in
  /// a mirror. Whatever stands over a panel takes eps0 / height from each square of a large
  /// isolated conductor: 0.35 fF/mm2 at 25 mm, one per cent of what the panel itself does.
  double surroundings_mm = 0.0;

  /// Thickness of everything from the touched surface down to the display plane, mm.
  double total_thickness() const;
  /// Height of the lower face of layer `index` above the display plane, mm.
  double height_below(int index) const;
};

/// The reference panel: pitch 5 mm both ways, bars of 4.8 mm, stripes of 1.0 mm, under cover glass
/// of `cover_mm` (eps_r 7.0), adhesive 0.15 mm (3.3), dielectric 0.2 mm (3.2), air 0.5 mm, with
/// grounded surroundings 25 mm above it.
/// Permittivities: handbook ranges, from memory; geometry: common practice, no source.
PanelSpec reference_panel(double cover_mm = 1.1);

/// Reads a panel file (TOML, see fixtures/panels). Throws PanelError.
PanelSpec load_panel(const std::string& path);
/// The same from text; `file` names it in errors.
PanelSpec parse_panel(const std::string& text, const std::string& file);

}  // namespace bareglass::field
