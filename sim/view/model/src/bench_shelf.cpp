#include "bareglass/view/bench_shelf.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::view {

namespace {

using panel::Look;
using panel::Outline;
using panel::ThingSpec;

// C_b of a standing person: 100 to 200 pF (100 pF: the human-body model of ANSI/ESDA/JEDEC JS-001).
constexpr double kPerson_pf = 150.0;

ThingSpec thing(const char* name, Look look, const char* shape, panel::OutlinePtr outline,
                field::Point at) {
  ThingSpec t;
  t.name = name;
  t.look = look;
  t.shape = shape;
  t.outline = std::move(outline);
  t.place = at;
  return t;
}

ThingSpec finger(field::Point at) {
  ThingSpec t = thing("finger", Look::finger, "disc", Outline::disc(8.0), at);
  t.earth_pf = kPerson_pf;
  t.tremor_mm = 0.1;
  return t;
}

ThingSpec film(ThingSpec t, double um, double permittivity) {
  t.is_film = true;
  t.film_um = um;
  t.permittivity = permittivity;
  return t;
}

ThingSpec hand(field::Point at) {
  ThingSpec t = thing(
      "hand", Look::hand, "polygon",
      Outline::polygon({{-14, -9}, {-2, -11}, {11, -10}, {14, 1}, {8, 11}, {-7, 11}, {-15, 3}}),
      at);
  t.earth_pf = kPerson_pf;
  t.tremor_mm = 0.2;
  return t;
}

ThingSpec residue(field::Point at) {
  return film(thing("residue", Look::residue, "polygon",
                    Outline::polygon({{-12, -11}, {10, -9}, {7, 10}, {-4, 8}, {-10, 11}}), at),
              60.0, 6.0);
}

ThingSpec metal_label(field::Point at) {
  ThingSpec t =
      thing("metal-backed label", Look::metal, "rectangle", Outline::rectangle(24, 14), at);
  t.spacer = {200.0, 3.0};
  return t;
}

std::vector<ThingSpec> drops(field::Point at) {
  struct Drop {
    double x, y, diameter;
  };
  std::vector<ThingSpec> out;
  for (const Drop d : {Drop{-10, -12, 8}, Drop{9, -5, 6}, Drop{-5, 11, 11}, Drop{13, 13, 5}})
    out.push_back(
        thing("drop", Look::drop, "disc", Outline::disc(d.diameter), {at.x + d.x, at.y + d.y}));
  return out;
}

// A wet cloth leaves puddles, which conduct, in a film of alcohol, which does not.
std::vector<ThingSpec> wet_wipe(field::Point at, GlassSize glass) {
  const double w = std::min(40.0, 0.7 * glass.width_mm);
  const double h = std::min(44.0, 0.5 * glass.height_mm);
  std::vector<ThingSpec> out;
  out.push_back(
      thing("puddle", Look::wet_film, "rectangle", Outline::rectangle(0.85 * w, 0.85 * h), at));
  out.push_back(film(thing("disinfectant film", Look::wet_film, "rectangle",
                           Outline::rectangle(1.3 * w, 1.3 * h), at),
                     100.0, 19.0));
  return out;
}

// Half of it stands in the gap below the bezel, which is earthed.
ThingSpec bezel_fluid(GlassSize glass) {
  const double half = 0.45 * glass.width_mm;
  ThingSpec t = thing("fluid at the bezel", Look::bezel_fluid, "polygon",
                      Outline::polygon({{-half, -7},
                                        {half, -7},
                                        {half, 5},
                                        {0.6 * half, 7},
                                        {0.1 * half, 5.5},
                                        {-0.5 * half, 6.5},
                                        {-half, 4.5}}),
                      {0.5 * glass.width_mm - 2.5, -4.5});
  t.device_pf = panel::kConnected;
  return t;
}

}  // namespace

const std::vector<ShelfEntry>& shelf() {
  static const std::vector<ShelfEntry> kShelf = {
      {ShelfItem::finger, "finger", "8 mm, of a standing person (150 pF to earth)"},
      {ShelfItem::three_fingers, "three fingers", "three fingers of one person"},
      {ShelfItem::hand, "hand", "flat on the glass, of a standing person"},
      {ShelfItem::tape, "tape strip", "dry, 19 mm wide, 0.1 mm thick, permittivity 3"},
      {ShelfItem::dry_note, "dry note", "dry paper, 0.1 mm, permittivity 3"},
      {ShelfItem::damp_note, "damp note", "wet paper: it conducts, with no path to ground"},
      {ShelfItem::drops, "drops", "four drops of water, 5 to 11 mm"},
      {ShelfItem::wet_wipe, "wet wipe", "a puddle in a film of disinfectant; both dry"},
      {ShelfItem::streak, "streak", "a wet smear along a diagonal, with no path to ground"},
      {ShelfItem::residue, "residue", "dry adhesive of a label, 0.06 mm, permittivity 6"},
      {ShelfItem::metal_label, "metal-backed label", "metal behind 0.2 mm of paper and glue"},
      {ShelfItem::bezel_fluid, "fluid at the bezel",
       "stands in the gap and reaches the earthed bezel"},
  };
  return kShelf;
}

GlassSize glass_size(const panel::Scenario& s) {
  return {s.setup.columns * s.panel.columns.pitch_mm, s.setup.rows * s.panel.rows.pitch_mm};
}

std::vector<ThingSpec> from_shelf(ShelfItem item, field::Point at, GlassSize glass) {
  const double tape_mm = std::min(60.0, glass.width_mm + 6.0);
  switch (item) {
    case ShelfItem::finger:
      return {finger(at)};
    case ShelfItem::three_fingers:
      return {finger({at.x - 15, at.y + 5}), finger({at.x, at.y - 4}),
              finger({at.x + 15, at.y + 4})};
    case ShelfItem::hand:
      return {hand(at)};
    case ShelfItem::tape:
      return {
          film(thing("tape strip", Look::tape, "rectangle", Outline::rectangle(tape_mm, 19), at),
               100.0, 3.0)};
    case ShelfItem::dry_note:
      return {film(thing("dry note", Look::paper, "rectangle", Outline::rectangle(30, 26), at),
                   100.0, 3.0)};
    case ShelfItem::damp_note:
      return {thing("damp note", Look::paper, "rectangle", Outline::rectangle(26, 30), at)};
    case ShelfItem::drops:
      return drops(at);
    case ShelfItem::wet_wipe:
      return wet_wipe(at, glass);
    case ShelfItem::streak:
      return {thing("streak", Look::wet_film, "stroke",
                    Outline::stroke({{-10, -10}, {10, 10}}, 5.0), at)};
    case ShelfItem::residue:
      return {residue(at)};
    case ShelfItem::metal_label:
      return {metal_label(at)};
    case ShelfItem::bezel_fluid:
      return {bezel_fluid(glass)};
  }
  return {};
}

double drying_time_s(ShelfItem item) { return item == ShelfItem::wet_wipe ? 40.0 : 0.0; }

Look look_of(const ThingSpec& t) {
  if (t.look != Look::unsaid) return t.look;
  if (t.is_film) {
    if (t.permittivity > 12.0) return Look::wet_film;
    return t.permittivity > 4.0 ? Look::residue : Look::tape;
  }
  if (t.device_pf > 0.0) return Look::bezel_fluid;
  const bool person = t.earth_pf >= 50.0;
  if (person) return t.shape == "disc" ? Look::finger : Look::hand;
  if (t.spacer.thickness_um > 0.0) return Look::metal;
  if (t.shape == "rectangle" && t.name.find("note") != std::string::npos) return Look::paper;
  return t.shape == "disc" ? Look::drop : Look::wet_film;
}

}  // namespace bareglass::view
