#pragma once
// What a panel is made of: the layer stack, the electrodes, and things lying flat on the glass.

#include <optional>
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

/// Diamonds: squares on edge, all in one plane, joined corner to corner into rows and columns by
/// narrow necks. Where two necks would cross the row's stays and the column's becomes a bridge, a
/// strip of metal over a thin insulator.
struct Diamonds {
  double pitch_mm = 5.0;      ///< of the crossings, both ways, 2..20
  double gap_mm = 0.2;        ///< between diamonds of a row and of a column, 0.05..pitch / 10
  double neck_mm = 0.3;       ///< width of a row's necks, 0.05..pitch / 5
  double bridge_mm = 0.1;     ///< width of a bridge, 0.01..1
  double insulator_um = 2.0;  ///< below the bridge, 0.2..100
  double insulator_permittivity = 3.2;  ///< relative, 1..200
  int under = 0;                        ///< index of the layer at whose lower face they lie

  /// Between a bridge and the neck below it, as parallel plates, fF. Its fringe is left out: the
  /// insulator is a fiftieth of the bridge's width.
  double bridge_ff() const;
};

/// A panel above a grounded display plane. Rows run along x and are spaced in y; columns the other
/// way round. Bars and stripes (wide drive bars below narrow sense stripes) unless `diamonds` is
/// set; `rows` and `columns` then hold the pitch, and the width from tip to tip.
struct PanelSpec {
  std::string name;
  std::vector<Layer> layers;  ///< from the cover glass down to the display plane, 2..12
  Lines rows;
  Lines columns;
  std::optional<Diamonds> diamonds;
  /// Height of grounded surroundings above the glass, mm (5..1000); 0: none, the air above ends in
  /// a mirror. Whatever stands over a panel takes eps0 / height from each square of a large
  /// isolated conductor: 0.35 fF/mm2 at 25 mm, one per cent of what the panel itself does.
  double surroundings_mm = 0.0;

  /// Thickness of everything from the touched surface down to the display plane, mm.
  double total_thickness() const;
  /// Height of the lower face of layer `index` above the display plane, mm.
  double height_below(int index) const;
  /// Makes it a panel of diamonds, rows and columns included.
  void set_diamonds(const Diamonds& pattern);
  /// Resistance of a line from one crossing to the next, in squares of its film. Of a diamond by
  /// slices across it, which leaves out how current spreads beside the neck: a few per cent.
  double squares_per_crossing(bool of_rows) const;
};

/// The reference panel: pitch 5 mm both ways, bars of 4.8 mm, stripes of 1.0 mm, under cover glass
/// of `cover_mm` (eps_r 7.0), adhesive 0.15 mm (3.3), dielectric 0.2 mm (3.2), air 0.5 mm, with
/// grounded surroundings 25 mm above it.
/// Permittivities: handbook ranges, from memory; geometry: common practice, no source.
PanelSpec reference_panel(double cover_mm = 1.1);

/// Diamonds of 5 mm pitch, gaps of 0.2 mm, necks of 0.3 mm, bridges of 0.1 mm over 2 um of resist
/// (eps_r 3.2), under the cover glass and adhesive of the reference panel and on 0.5 mm of glass
/// (eps_r 7.0) over an air gap of 0.5 mm. Common practice, no source.
PanelSpec diamond_panel(double cover_mm = 1.1);

/// Reads a panel file (TOML, see fixtures/panels). Throws PanelError.
PanelSpec load_panel(const std::string& path);
/// The same from text; `file` names it in errors.
PanelSpec parse_panel(const std::string& text, const std::string& file);

}  // namespace bareglass::field
