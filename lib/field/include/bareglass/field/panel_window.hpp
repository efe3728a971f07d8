#pragma once
// A window of bars and stripes.

#include "bareglass/field/electrode_window.hpp"

namespace bareglass::field {

/// Where a window ends in one direction, as line positions (multiples of the pitch). Every end must
/// be a mirror plane of the panel: a whole number (the middle of a line) or a half (between two).
struct Span {
  double begin = 0.0;
  double end = 0.0;
  /// The begin is a mirror plane of the whole situation, object included, and results are for the
  /// whole; otherwise the panel simply goes on undriven and unloaded beyond it.
  bool mirrored = false;
};

/// A meshed window of bars and stripes.
class PanelWindow : public ElectrodeWindow {
 public:
  /// Throws std::invalid_argument for spans that do not end on mirror planes and for panels of
  /// another pattern.
  PanelWindow(const PanelSpec& panel, Span columns, Span rows, const Mesh& mesh,
              const Scene& scene = {});

 private:
  void mesh_and_label(const PanelSpec& panel, const Mesh& mesh, const Scene& scene);
  void label(const PanelSpec& panel, const Scene& scene, double edge_mm);
  int twins_of(int conductor) const;

  Span columns_;
  Span rows_;
};

}  // namespace bareglass::field
