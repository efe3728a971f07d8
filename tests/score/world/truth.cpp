#include "truth.hpp"

#include <algorithm>
#include <cmath>

#include "panels.hpp"

namespace bareglass::world {

const char* name_of(Kind kind) {
  constexpr const char* kNames[] = {
      "body",         "streak",      "drops",          "bezel",        "layer",     "whole_glass",
      "held",         "keyring",     "thread",         "bandage",      "open_line", "cut",
      "bridged",      "resistive",   "tail_group",     "intermittent", "sag",       "temperature",
      "interference", "common_mode", "floating_ground"};
  static_assert(std::size(kNames) == kKindCount);
  return kNames[static_cast<int>(kind)];
}

namespace {

using Names = std::vector<std::string>;

void also(Names& names, std::initializer_list<const char*> more) {
  for (const char* name : more)
    if (std::find(names.begin(), names.end(), name) == names.end()) names.emplace_back(name);
}

// Sizes, mm, between which neither name is wrong. A fingertip is 6 to 11 mm wide, a thumb laid flat
// up to 20 (common practice, no source); what is wider than 25 mm is none.
constexpr double kFingerMost = 13.0;
constexpr double kFilmLeast = 25.0;
constexpr double kDropMost = 17.0;  // a drop of water stands 5 mm high at most and spreads to this
constexpr double kPatchLeast = 12.0;

// Share of its own capacitance in what a body has in all, which is the part of its isolated voltage
// that it takes. What it passes on to a node is some 1.15 times what it takes from it, so that
// about 0.88 the two cancel on the nodes that it covers; between the two limits it is neither
// isolated nor earthed, and both names are right.
constexpr double kIsolatedFrom = 0.93;
constexpr double kEarthedUpTo = 0.45;

double size_of(const Item& item) { return std::sqrt(item.area_mm2 * 4 / 3.14159265358979); }

/// 1: nothing leads away; 0: earthed.
double isolation(const WorldCase& c, const Item& item) {
  constexpr double kEps0 = 8.854;                             // fF/mm
  double own = panel_kernels(c.panel).numbers.cover_per_mm2;  // fF/mm2
  if (item.spacer.thickness_um > 0) {
    const double spacer = kEps0 * item.spacer.permittivity / (1e-3 * item.spacer.thickness_um);
    own = own * spacer / (own + spacer);
  }
  const double own_pf = 1e-3 * own * item.area_mm2;
  return std::isinf(item.earth_pf) ? 0.0 : own_pf / (own_pf + item.earth_pf);
}

bool at_start(const WorldCase& c, const Item& item) {
  return item.stays.back().from_s <= c.lives.back().from_s + 0.3;
}

bool is_elongated(const Item& item) { return item.long_mm >= 4 * item.wide_mm; }
bool may_be_streak(const WorldCase& c, const Item& item) {
  // A streak is told by lines it crosses without covering them: half of its box, or narrower than a
  // pitch and a half.
  return item.solidity < 0.6 || item.long_mm > 2.2 * item.wide_mm ||
         item.wide_mm < 1.5 * c.scenario.panel.rows.pitch_mm;
}

/// Earthed, or nearly so: a finger, a hand, foil, a cable.
Names earthed_names(const WorldCase& c, const Item& item) {
  const double size = size_of(item);
  const bool start = at_start(c, item);
  const char* touch = start ? "touch_at_power_up" : "touch_held";
  Names names;
  if (is_elongated(item) && item.long_mm > kFilmLeast) {
    // Several fingers side by side and the edge of a hand look like a cable.
    also(names, {"grounded_film", touch, "unknown_object"});
  } else if (size <= kFingerMost) {
    also(names, {touch});
  } else if (size <= kFilmLeast) {
    also(names, {touch, "grounded_film"});
  } else {
    also(names, {"grounded_film"});
    // The enumeration calls a hand a touch, and a palm a grounded film.
    if (item.person) also(names, {touch, "hand"});
  }
  // What comes while the unit runs and is no larger than a thumb is somebody using it.
  if (!start && (size <= kFilmLeast || item.person))
    also(names, {"bare_glass", "touch_held", "moving_thing"});
  return names;
}

Names isolated_names(const WorldCase& c, const Item& item) {
  const double size = size_of(item);
  Names names;
  const bool streak = may_be_streak(c, item);
  if (is_elongated(item) && item.wide_mm < 9) {
    also(names, {"isolated_streak"});
    if (item.solidity > 0.35 && item.solidity < 0.75 && item.wide_mm > 4)
      also(names, {"isolated_film"});
    if (item.long_mm < 3 * c.scenario.panel.rows.pitch_mm) also(names, {"drops", "isolated_film"});
    return names;
  }
  // One small conductor: a drop, a coin and a scrap of foil are one thing to the panel.
  if (size < kPatchLeast)
    also(names, {"drops", "isolated_film"});
  else if (size < kDropMost)
    also(names, {"isolated_film", "drops"});
  else
    also(names, {"isolated_film"});
  if (streak) also(names, {"isolated_streak"});
  return names;
}

void add_faint(const WorldCase& c, const Item& item, Names& names) {
  // A flat faint rise: alcohol or thick plastic, spaced metal, isolated film on thick glass.
  constexpr double kFaintOfFinger = 0.08;
  if (std::abs(item.peak_of_finger) < kFaintOfFinger) {
    also(names, {"dry_film", "residue", "unknown_object"});
    if (item.peak_of_finger > 0) also(names, {"isolated_film"});
    if (item.peak_of_finger < 0) also(names, {"isolated_film", "isolated_streak", "drops"});
  }
  // A dozen times the noise in all tells that something is there, and its sign; not its outline.
  constexpr double kOutlineFrom = 15.0;
  if (item.snr < kOutlineFrom) {
    also(names,
         {"unknown_object", "dry_film", "residue", "isolated_film", "drops", "isolated_streak"});
    if (item.peak_of_finger < 0)
      also(names, {at_start(c, item) ? "touch_at_power_up" : "touch_held", "grounded_film"});
  }
}

Names conductor_names(const WorldCase& c, const Item& item) {
  const double share = isolation(c, item);
  Names names;
  if (share <= kEarthedUpTo || item.person) names = earthed_names(c, item);
  if (share >= kIsolatedFrom && !item.person) names = isolated_names(c, item);
  if (names.empty() || (item.person && share > kEarthedUpTo)) {
    // A small one at some pF is as a smaller earthed one; larger ones have both signs.
    for (const std::string& n : earthed_names(c, item)) also(names, {n.c_str()});
    for (const std::string& n : isolated_names(c, item)) also(names, {n.c_str()});
    also(names, {"unknown_object"});
  }
  if (item.dries && !item.person) {
    Names first{"drying_film"};
    // Half of it is still there: what it is and what it does are both said rightly.
    for (const std::string& n : names) also(first, {n.c_str()});
    names = first;
  }
  if (item.fades) also(names, {"drying_film"});
  if (item.moves_from_start) also(names, {"moving_thing"});
  if (item.moves) also(names, {"moving_thing", "unknown_object"});
  return names;
}

Names bezel_names(const WorldCase& c, const Item& item) {
  Names names{"wet_bezel"};
  const bool isolated = isolation(c, item) > kEarthedUpTo;
  if (isolated) also(names, {"isolated_film", "isolated_streak", "unknown_object"});
  // Wider than two pitches it is a film that reaches the border.
  if (item.wide_mm > 2 * c.scenario.panel.rows.pitch_mm) also(names, {"grounded_film"});
  // All of an outermost line low by a sixth or so, and nothing on the next one.
  if (item.strength > 0.85 && item.wide_mm < 1.2 * c.scenario.panel.rows.pitch_mm)
    also(names, {"raised_resistance", "worn_tail"});
  // Short: a finger or a thumb that lies on the border.
  if (item.long_mm < kFilmLeast)
    also(names, {at_start(c, item) ? "touch_at_power_up" : "touch_held", "grounded_film"});
  return names;
}

Names whole_glass_names(const WorldCase& c, const Item& item) {
  Names names;
  if (item.strength == 0)
    also(names, {"dry_film", "residue", "thick_sheet"});
  else if (isolation(c, item) > kIsolatedFrom)
    also(names, {"isolated_film", "unknown_object"});
  else if (isolation(c, item) > kEarthedUpTo)
    also(names, {"isolated_film", "grounded_film", "unknown_object"});
  else
    also(names, {"grounded_film", "isolated_film"});
  // Wholly wet or a change of gain: only how suddenly it came tells.
  if (item.strength == 0 || item.stays.back().from_s < c.lives.back().from_s)
    also(names, {"supply_sag", "temperature", "aged_reference", "unknown_object"});
  return names;
}

Names glass_names(const WorldCase& c, const Item& item) {
  Names names;
  switch (item.kind) {
    case Kind::drops:
      also(names, {"drops"});
      if (item.strength < 3) also(names, {"isolated_film", "isolated_streak"});
      break;
    case Kind::bezel:
      names = bezel_names(c, item);
      break;
    case Kind::layer:
      also(names, {"dry_film", "residue"});
      // As a flat rise it is a spaced or isolated conductor as well.
      also(names, {"isolated_film", "thick_sheet"});
      if (item.fades) also(names, {"drying_film"});
      break;
    case Kind::whole_glass:
      names = whole_glass_names(c, item);
      break;
    case Kind::held:
      also(names, {"touch_held"});
      if (size_of(item) > kFingerMost) also(names, {"grounded_film"});
      break;
    case Kind::keyring:
      // Nothing in the list is a ring; what sends somebody to look for metal is right.
      also(names, {"unknown_object", "isolated_film", "isolated_streak"});
      if (item.person) also(names, {"grounded_film", "touch_at_power_up", "touch_held", "hand"});
      break;
    case Kind::thread:
      also(names, {"isolated_streak", "unknown_object", "isolated_film", "drops", "residue"});
      break;
    case Kind::bandage:
      also(names, {"unknown_object", "isolated_film", "dry_film", "residue", "thick_sheet"});
      break;
    default:
      names = conductor_names(c, item);
  }
  if (item.kind != Kind::held) add_faint(c, item, names);
  return names;
}

Names line_names(const WorldCase& c, const Item& item) {
  const bool border =
      item.first == 0 ||
      item.last == (item.of_rows ? c.scenario.setup.rows : c.scenario.setup.columns) - 1;
  const int crossed = item.of_rows ? c.scenario.setup.columns : c.scenario.setup.rows;
  const panel::FrontEndSpec& fe = c.scenario.setup.front_end;
  const double bare = fe.counts_per_ff * panel_kernels(c.panel).numbers.node;
  // An open line reads the converter's offset: nobody says that this is not a small part of its
  // charge, until it is touched.
  const bool offset = c.disturbance.offset_counts > 0.03 * bare;
  Names names;
  switch (item.kind) {
    case Kind::open_line:
      also(names, {"open_line"});
      if (offset) also(names, {"raised_resistance"});
      break;
    case Kind::cut:
      also(names, {"crack"});
      // All but one crossing dead, or one alone: a tail, or a node.
      if (item.first == item.last && (item.at == 1 || item.at == crossed - 1))
        also(names, {"open_line", "lone_node"});
      break;
    case Kind::bridged:
      also(names, {"bridged_lines"});
      break;
    case Kind::resistive:
      also(names, {"raised_resistance"});
      if (border) also(names, {"wet_bezel"});
      break;
    case Kind::tail_group:
      also(names, {"worn_tail", "open_line", "raised_resistance"});
      break;
    default:
      also(names, {"intermittent_line"});
      // Too short to see it come back surely.
      if (c.lives.back().long_s() < 1.0) also(names, {"open_line", "raised_resistance"});
  }
  return names;
}

Names device_names(const WorldCase& c, const Item& item) {
  switch (item.kind) {
    case Kind::sag:
      // From the start on, a low drive, a cold unit and a reference of another gain are one.
      return {"supply_sag", "temperature", "aged_reference"};
    case Kind::temperature:
      return {"temperature", "supply_sag", "aged_reference"};
    case Kind::interference:
      return {"interference", "noise"};
    case Kind::common_mode:
      return {"common_mode", "noise"};
    default: {
      Names names{"floating_ground", "thick_sheet"};
      // One weak finger may be a small one.
      constexpr double kSurely = 2.0;  // pF; above, the ghosts of two fingers are faint
      if (c.fingers_in_use < 2 || item.strength > kSurely)
        also(names, {"bare_glass", "touch_held"});
      return names;
    }
  }
}

}  // namespace

bool is_absent(const WorldCase& c, const Item& item) {
  const Life& last = c.lives.back();
  return std::none_of(item.stays.begin(), item.stays.end(), [&](const Stay& s) {
    return s.until_s > last.from_s + 0.05 && s.from_s < last.until_s - 0.05;
  });
}

void find_truth(WorldCase& c) {
  for (Item& item : c.items) {
    item.right = lies_on_glass(item.kind) ? glass_names(c, item)
                 : is_fault(item.kind)    ? line_names(c, item)
                                          : device_names(c, item);
    if (!item.visible || item.snr < 8.0) also(item.right, {"bare_glass", "not_enough"});
  }
}

}  // namespace bareglass::world
