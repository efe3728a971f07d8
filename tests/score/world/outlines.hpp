#pragma once
// Outlines of things, drawn without gaps: round, angular at any angle, blobs, strokes.

#include "bareglass/panel_model/outline.hpp"
#include "draw.hpp"

namespace bareglass::world {

/// An outline about its own middle, and the numbers that its name depends on.
struct Drawn {
  panel::OutlinePtr outline;
  const char* shape = "";
  double area_mm2 = 0.0;
  double long_mm = 0.0;
  double wide_mm = 0.0;
  double solidity = 1.0;
};

/// A closed outline of about the area of a disc of `size_mm`.
Drawn draw_patch(score::Draw& draw, double size_mm);
/// A stroke of that length: straight, L or curved.
Drawn draw_streak(score::Draw& draw, double long_mm, double wide_mm);
/// A closed ring of a thin stroke.
Drawn draw_ring(score::Draw& draw, double diameter_mm, double wide_mm);
/// The same outline with an edge that wanders by `ragged_mm` (rms) every two millimetres or so
/// (large ones: every twentieth of their size); strokes vary in width instead.
Drawn ragged(const Drawn& drawn, score::Draw& draw, double ragged_mm);

}  // namespace bareglass::world
