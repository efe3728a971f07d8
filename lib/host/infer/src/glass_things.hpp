#pragma once
// Things on the glass over the whole dump: each state's scene, and when every thing of it was
// there.

#include <optional>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/answer/reconstruction.hpp"
#include "departure.hpp"
#include "fitted_piece.hpp"

namespace bareglass::host {

/// How many natural logarithms of likelihood ratio are worth one: the errors of the model at
/// neighbouring nodes go together, so that a map holds fewer independent witnesses than nodes.
/// Chosen, then calibrated over (CALIBRATION.md).
inline constexpr double kTemper = 2.5;

/// Shape of one thing as the fit left it.
struct ThingShape {
  double area_mm2 = 0;        ///< of its outline, the rim that field gathers at taken off
  double diameter_mm = 0;     ///< of a disc of that area
  double x_mm = 0, y_mm = 0;  ///< its middle; node (0, 0) is the origin
  Box box;                    ///< nodes
  double border_mm = 0;       ///< length of its outline along the panel's border
  double depth_mm = 0;        ///< its area over that length; 0: not at a border
  double scatter = 1;         ///< area of the rectangle of the same spread over its own
  double closed = 1;          ///< share of the crossings of its rows and columns that it covers
};

/// One kind that a thing may be, and how probable that is.
struct KindShare {
  Cause cause = Cause::unknown_object;
  double share = 0;  ///< 0..1
};

/// One thing of one state.
struct GlassThing {
  std::vector<KindShare> kinds;  ///< most probable first, shares add up to 1
  ThingShape shape;
  int parts = 1;             ///< bodies that are told together: drops
  infer::NodeMap predicted;  ///< its own part of the map, whole panel, fF
  double support = 0;        ///< misfit without it less that with it
  double left = 0;           ///< misfit of its block a node: noise leaves a half at most
  std::size_t company = 1;   ///< things of its state
  double to_earth_pf = 0;    ///< of conductors; infinite: earthed
  bool is_layer = false;
  std::size_t state = 0;  ///< index of the state it was told from
  BareBy bare = BareBy::reference;
  bool either_way = false;  ///< arrived or left: the dump does not tell which
  // Its time.
  std::size_t from = 0, until = 0;  ///< windows in which it was there
  std::vector<float> course;        ///< share of it that each window shows
  double course_sigma = 0;
  // What it was read from.
  std::vector<FittedPiece> pieces;        ///< empty: no scene stands for it
  std::shared_ptr<const SceneMaps> maps;  ///< of its state
};

/// Share of a kind; 0 if it is not among them.
double share_of(const GlassThing& thing, Cause cause);

/// All things of all runs, those of the last run first.
std::vector<GlassThing> glass_things(const Reading& reading, const Account& account);

}  // namespace bareglass::host
