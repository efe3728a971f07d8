#pragma once
// What dielectrics do to the nodes, solved where asked for and kept.

#include <map>
#include <utility>
#include <vector>

#include "bareglass/panel_model/glass_model.hpp"

namespace bareglass::panel {

class Films {
 public:
  explicit Films(field::PanelSpec spec) : spec_(std::move(spec)) {}
  /// Adds what `film` does to every node, fF. `kernels` are those of the bare panel.
  void add(NodeMatrix& change, const Film& film, const field::SurfaceKernels& kernels);
  /// Change of a node under a film over the whole panel, fF. Full solutions at powers of 2 of the
  /// thickness, linear between.
  double change(double thickness_um, double permittivity);

 private:
  double solved(int octave, double permittivity);

  /// Of a film that lies still: the part of the whole-area change that each node gets.
  struct Shares {
    OutlinePtr outline;
    field::Point place;
    NodeMatrix share;
  };

  field::PanelSpec spec_;
  std::vector<Shares> shares_;
  std::map<std::pair<int, double>, double> known_;
};

}  // namespace bareglass::panel
