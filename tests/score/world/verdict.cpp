#include "verdict.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/replay/replay.hpp"
#include "support/record_list.hpp"
#include "truth.hpp"
#include "unit.hpp"

namespace bareglass::world {

namespace {

using Names = std::vector<std::string>;

bool holds(const Names& all, const std::string& one) {
  return std::find(all.begin(), all.end(), one) != all.end();
}
bool share(const Names& a, const Names& b) {
  return std::any_of(a.begin(), a.end(), [&](const std::string& n) { return holds(b, n); });
}

/// The cause and what makes the same signals.
Names names_of(const host::CauseFound& found) {
  Names names{host::name_of(found.cause)};
  for (const host::Cause c : found.or_else) names.emplace_back(host::name_of(c));
  return names;  // an answer that named more than three would say nothing
}

bool is_present(const WorldCase& c, const Item& item) { return !is_absent(c, item); }
/// Something must be said of it.
bool must_be_named(const WorldCase& c, const Item& item) {
  return is_present(c, item) && item.visible && !holds(item.right, "bare_glass");
}

bool nothing_to_tell(const WorldCase& c) {
  return std::none_of(c.items.begin(), c.items.end(),
                      [&](const Item& i) { return must_be_named(c, i); });
}

/// A cause fits an item of the last life, what healthy units may be told, or, told as history, an
/// item of an earlier one.
bool fits(const WorldCase& c, const host::CauseFound& found) {
  const Names names = names_of(found);
  for (const Item& item : c.items) {
    if (is_present(c, item) && share(names, item.right) && names.front() != "bare_glass")
      return true;
    if (!is_present(c, item) && found.ended && share(names, item.right)) return true;
  }
  if (share(names, c.tolerated)) return true;
  return (names.front() == "bare_glass" || names.front() == "not_enough") && nothing_to_tell(c);
}

/// Nothing at all is right where nothing need be told; not_enough only where the dump is poor.
bool fits_first(const WorldCase& c, const host::CauseFound& found) {
  // Beside a thing on the glass, what every unit has does not come first.
  if (!nothing_to_tell(c) && share(names_of(found), c.tolerated)) {
    WorldCase strict = c;
    strict.tolerated.clear();
    return fits(strict, found);
  }
  const bool poor = !c.scenario.factory_reference || c.lives.back().long_s() < 1.0;
  if (found.cause == host::Cause::not_enough) return nothing_to_tell(c) && poor;
  return fits(c, found);
}

double clipped_middle(double low, double high, double end) {
  return (std::clamp(low, 0.0, end) + std::clamp(high, 0.0, end)) / 2;
}

/// What lies beyond the outermost nodes can't be seen.
double centre_error(const WorldCase& c, const Item& item, const host::CauseFound& found) {
  const double px = c.scenario.panel.columns.pitch_mm;
  const double py = c.scenario.panel.rows.pitch_mm;
  const panel::ThingSpec& spec = c.scenario.things[item.things.front()];
  const field::Box b = spec.outline->footprint().bounds();
  const double x = clipped_middle(spec.place.x + b.x_low, spec.place.x + b.x_high,
                                  (c.scenario.setup.columns - 1) * px);
  const double y = clipped_middle(spec.place.y + b.y_low, spec.place.y + b.y_high,
                                  (c.scenario.setup.rows - 1) * py);
  return std::hypot((found.box.col0 + found.box.col1) * px / 2 - x,
                    (found.box.row0 + found.box.row1) * py / 2 - y);
}

/// Area of a thing on the glass and its middle, mm from the upper left corner of the lines' area:
/// summed over squares of a quarter of a millimetre.
struct TrueBody {
  double area_mm2 = 0.0, x = 0.0, y = 0.0;
};
TrueBody true_body(const WorldCase& c, const Item& item) {
  constexpr double kStep = 0.25;
  const double px = c.scenario.panel.columns.pitch_mm;
  const double py = c.scenario.panel.rows.pitch_mm;
  const panel::ThingSpec& spec = c.scenario.things[item.things.front()];
  const field::Footprint shape = spec.outline->footprint();
  const field::Box b = shape.bounds();
  TrueBody out;
  for (double y = b.y_low + kStep / 2; y < b.y_high; y += kStep)
    for (double x = b.x_low + kStep / 2; x < b.x_high; x += kStep) {
      const double gx = x + spec.place.x + px / 2, gy = y + spec.place.y + py / 2;
      if (gx < 0 || gy < 0 || gx > c.scenario.setup.columns * px ||
          gy > c.scenario.setup.rows * py || shape.distance({x, y}) > 0)
        continue;
      out.area_mm2 += kStep * kStep;
      out.x += gx * kStep * kStep;
      out.y += gy * kStep * kStep;
    }
  out.x /= std::max(1e-9, out.area_mm2);
  out.y /= std::max(1e-9, out.area_mm2);
  return out;
}

bool holds(const host::Estimate& e, double value) { return value >= e.low && value <= e.high; }

Verdict::Rebuilt held_against(const TrueBody& truth, const Item& item,
                              const host::Reconstruction& found) {
  Verdict::Rebuilt r;
  double x = 0.0, y = 0.0;
  for (const host::PieceFound& p : found.pieces) {
    x += p.x_mm.value * p.area_mm2.value / found.area_mm2.value;
    y += p.y_mm.value * p.area_mm2.value / found.area_mm2.value;
  }
  r.centre_mm = std::hypot(x - truth.x, y - truth.y);
  r.area_mm2 = truth.area_mm2;
  r.area_ratio = found.area_mm2.value / truth.area_mm2;
  r.area_held = holds(found.area_mm2, truth.area_mm2);
  r.area_width = (found.area_mm2.high - found.area_mm2.low) / truth.area_mm2;
  const host::PieceFound& first = found.pieces.front();
  r.x_held = holds(first.x_mm, truth.x);
  r.y_held = holds(first.y_mm, truth.y);
  // Earthed through a spacer is some picofarads on the glass: no map tells them apart.
  const bool one_number = !item.person && item.spacer.thickness_um == 0;
  if (one_number && first.earth_pf) r.earth_held = holds(*first.earth_pf, item.earth_pf);
  return r;
}

void weigh_place(const WorldCase& c, const host::Diagnosis& answer, Verdict& v) {
  const auto item = std::find_if(c.items.begin(), c.items.end(), [&](const Item& i) {
    return i.kind == Kind::body && must_be_named(c, i) && !i.moves && !i.dries &&
           i.area_mm2 >= 15.0 * 15.0 && i.things.size() == 1;
  });
  if (item == c.items.end()) return;
  for (const host::CauseFound& found : answer.causes) {
    if (!found.has_place || found.lines || !share(names_of(found), item->right)) continue;
    const double error = centre_error(c, *item, found);
    if (v.centre_mm >= 0 && error >= v.centre_mm) continue;
    v.centre_mm = error;
    v.rebuilt.reset();
    if (found.reconstruction)
      v.rebuilt = held_against(true_body(c, *item), *item, *found.reconstruction);
  }
}

std::string text_of(const host::CauseFound& found) {
  std::string text = fmt::format("{} {:.2f}", host::name_of(found.cause), found.confidence);
  for (const host::Cause c : found.or_else) text += fmt::format(" or {}", host::name_of(c));
  if (found.ended) text += " (ended)";
  return text;
}

/// What the case is like, for tables: start-ups, reference, noise.
std::vector<std::string> groups_of(const WorldCase& c) {
  const double noise = c.scenario.setup.front_end.noise_ff / c.finger_ff;
  const Disturbance& x = c.disturbance;
  return {fmt::format("start-ups: {}", c.lives.size()),
          !c.scenario.factory_reference ? "reference: none"
          : x.reference_frames == 0     ? "reference: ideal"
                                        : "reference: aged",
          noise < 0.03 ? "noise: below 3 % of a finger" : "noise: 3 % of a finger and more",
          x.row_swing_ff > c.scenario.setup.front_end.noise_ff ? "row swing: above the noise"
                                                               : "row swing: below the noise",
          c.disturbance.counts_rise ? "counts: rise with a touch" : "counts: fall with a touch",
          c.disturbance.offset_counts > 0 ? "offset of the converter: some"
                                          : "offset of the converter: none"};
}

void describe(const WorldCase& c, Verdict& v) {
  for (const Item& item : c.items)
    v.wanted += fmt::format("{}[{}{}snr {:.0f}]:{} ", name_of(item.kind),
                            is_present(c, item) ? "" : "gone ", item.visible ? "" : "unseen ",
                            item.snr, fmt::join(item.right, "/"));
}

}  // namespace

Verdict judge_answer(const WorldCase& c, const host::Diagnosis& answer) {
  Verdict v;
  v.seed = c.seed;
  v.healthy = c.items.empty();
  v.right_first = fits_first(c, answer.causes.front());
  host::CauseFound alone = answer.causes.front();
  alone.or_else.clear();
  v.right_alone = fits_first(c, alone);
  v.names = 1 + static_cast<int>(answer.causes.front().or_else.size());
  v.kind = v.healthy ? "healthy" : "earlier life";
  v.label = v.healthy ? "bare_glass" : "earlier life";
  for (const host::CauseFound& found : answer.causes) {
    const bool right = fits(c, found);
    v.told.push_back(
        {name_of(found.cause), found.confidence, found.sureness == host::Sureness::sure, right});
    v.said += (v.said.empty() ? "" : ", ") + text_of(found);
    const bool says =
        found.cause != host::Cause::bare_glass && found.cause != host::Cause::not_enough;
    v.alarmed |= v.healthy && says && !right;
  }
  for (const Item& item : c.items) {
    if (!is_present(c, item)) continue;
    if (v.items.empty() && v.kind == "earlier life") {
      v.kind = name_of(item.kind);
      v.label = item.right.front();
    }
    if (!must_be_named(c, item)) continue;
    ++v.present;
    const bool named =
        std::any_of(answer.causes.begin(), answer.causes.end(),
                    [&](const host::CauseFound& f) { return share(names_of(f), item.right); });
    v.named += named;
    v.items.push_back({name_of(item.kind), item.right.front(), named});
  }
  if (v.present > 0) {
    v.kind = v.items.front().kind;
    v.label = v.items.front().label;
  } else if (!v.healthy && v.kind != "earlier life") {
    v.kind = v.label = "hardly seen";
  }
  v.groups = groups_of(c);
  weigh_place(c, answer, v);
  describe(c, v);
  return v;
}

Verdict judge_case(const WorldCase& c) {
  support::RecordListReader reader(play(c));
  const auto begin = std::chrono::steady_clock::now();
  const host::Diagnosis answer = host::diagnose(host::replay(reader, c.scenario.file, {}));
  const auto end = std::chrono::steady_clock::now();
  Verdict v = judge_answer(c, answer);
  v.took_s = std::chrono::duration<double>(end - begin).count();
  return v;
}

}  // namespace bareglass::world
