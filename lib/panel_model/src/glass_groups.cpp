#include "glass_groups.hpp"

#include <algorithm>

namespace bareglass::panel {

namespace {

constexpr double kFemtoPerPico = 1000.0;

/// A spacer's thickness as that of air of the same capacitance, um.
double height_of(const Spacer& spacer) { return spacer.thickness_um / spacer.permittivity; }

/// Leaves out parts that lie within another one which is no further from the glass: a finger in a
/// puddle changes nothing in the puddle's outline. Of two that hold each other the first stays.
std::vector<const Conductor*> outermost(const std::vector<const Conductor*>& parts,
                                        Bodies& bodies) {
  std::vector<const Conductor*> out = parts;
  const auto hides = [&](const Conductor* outer, const Conductor* inner) {
    return outer != inner && height_of(inner->spacer) >= height_of(outer->spacer) &&
           contains(bodies.single(*outer), outer->place, bodies.single(*inner), inner->place);
  };
  for (auto it = out.end(); it != out.begin();) {
    --it;
    const bool hidden = std::any_of(out.begin(), out.end(),
                                    [&](const Conductor* other) { return hides(other, *it); });
    if (hidden) it = out.erase(it);
  }
  return out;
}

/// Joined things are as near to the glass as the nearest of them.
Spacer lowest(const std::vector<const Conductor*>& parts) {
  return (*std::min_element(parts.begin(), parts.end(),
                            [](const Conductor* a, const Conductor* b) {
                              return height_of(a->spacer) < height_of(b->spacer);
                            }))
      ->spacer;
}

Group joined(const std::vector<const Conductor*>& all, Bodies& bodies) {
  Group out;
  for (const Conductor* c : all) {
    out.earth_ff = std::min(out.earth_ff + in_ff(c->earth_pf), kConnectionFf);
    out.device_ff = std::min(out.device_ff + in_ff(c->device_pf), kConnectionFf);
  }
  const std::vector<const Conductor*> parts = outermost(all, bodies);
  const Spacer height = lowest(parts);
  bool in_patches = true;
  int graded = 0;
  std::size_t largest = 0;
  std::size_t largest_graded = 0;
  for (const Conductor* c : parts) {
    out.parts.push_back({&bodies.single(*c, height), c->place});
    const field::PatchedObject& patches = out.parts.back().body->patches();
    in_patches = in_patches && patches.factorised();
    largest = std::max(largest, patches.squares());
    if (!patches.graded()) continue;
    ++graded;
    largest_graded = patches.squares();
  }
  // Of overlapping parts the largest has the ground that they share; the others give up theirs
  // square by square, which blocks of squares can't.
  in_patches = in_patches && (graded == 0 || (graded == 1 && largest_graded == largest));
  if (parts.size() > 1 && !in_patches)
    out.parts = {{&bodies.joined(parts, height), parts.front()->place}};
  return out;
}

}  // namespace

double in_ff(double pf) { return std::min(pf * kFemtoPerPico, kConnectionFf); }

bool Group::same_place(const Group& o) const {
  return std::equal(parts.begin(), parts.end(), o.parts.begin(), o.parts.end(),
                    [](const Part& a, const Part& b) {
                      return a.body == b.body && a.place.x == b.place.x && a.place.y == b.place.y;
                    });
}

std::vector<Group> grouped(const std::vector<Conductor>& conductors, Bodies& bodies) {
  const std::vector<std::size_t> leader =
      leaders(conductors.size(), [&](std::size_t a, std::size_t b) {
        double gap = 0.0;
        return overlap(bodies.single(conductors[a]), conductors[a].place,
                       bodies.single(conductors[b]), conductors[b].place, gap);
      });
  std::vector<Group> out;
  std::vector<const Conductor*> parts;
  for (std::size_t k = 0; k < conductors.size(); ++k) {
    if (leader[k] != k) continue;
    parts.clear();
    for (std::size_t j = k; j < conductors.size(); ++j)
      if (leader[j] == k) parts.push_back(&conductors[j]);
    out.push_back(joined(parts, bodies));
  }
  return out;
}

}  // namespace bareglass::panel
