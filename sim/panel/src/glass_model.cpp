#include "bareglass/panel/glass_model.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "body.hpp"
#include "films.hpp"

namespace bareglass::panel {

namespace {

constexpr double kFemtoPerPico = 1000.0;
/// A connection, as a capacitance that nothing on a panel comes near: 1 uF. Leaves 3e-6 of the
/// potential of the largest thing.
constexpr double kConnection = 1e9;  // fF
/// Conductors further apart than this do not feel each other (below 1 fF, measured).
constexpr double kNear = 3.0;  // mm
/// Grid on which the places of joined things relative to each other are kept, mm.
constexpr double kJoinGrid = 0.25;

/// A spacer's thickness as that of air of the same capacitance, um.
double height_of(const Spacer& spacer) { return spacer.thickness_um / spacer.permittivity; }

double in_ff(double pf) { return std::min(pf * kFemtoPerPico, kConnection); }

int on_grid(double mm) { return static_cast<int>(std::lround(mm / kJoinGrid)); }

}  // namespace

/// All of the model that is kept from frame to frame.
struct GlassModel::State {
  using Height = std::pair<double, double>;  // of the spacer: thickness, permittivity
  struct Member {
    const Outline* outline;
    int x, y;  // place relative to the first one, in kJoinGrid
    bool operator<(const Member& o) const {
      return std::tie(outline, x, y) < std::tie(o.outline, o.x, o.y);
    }
  };
  struct Key {
    Height height;
    std::vector<Member> members;
    bool operator<(const Key& o) const {
      return std::tie(height, members) < std::tie(o.height, o.members);
    }
  };
  struct Entry {
    std::vector<OutlinePtr> keep_alive;  // addresses in the key stay taken
    std::unique_ptr<Body> body;
    std::uint64_t used = 0;
  };
  /// Things that are one conductor.
  struct Group {
    bool known = false;  // body, place and coupling belong together
    Body* body = nullptr;
    field::Point place;
    double earth_ff = 0.0;
    double device_ff = 0.0;
    field::Coupling coupling;  // kept while the thing lies still
  };

  State(const field::PanelSpec& s, field::LineRange l) : spec(s), lines(l), films(s) {}

  const field::SurfaceModel& surface(const Spacer& spacer);
  Body& body(Key key, const std::vector<OutlinePtr>& outlines);
  Body& single(const Conductor& c);
  Body& joined(const std::vector<const Conductor*>& parts);
  Key key_of(const std::vector<const Conductor*>& parts) const;
  OutlinePtr joined_outline(const Key& key, const std::vector<OutlinePtr>& outlines) const;
  void group(const std::vector<Conductor>& conductors);
  void fill_group(Group& out, const std::vector<const Conductor*>& parts);
  double mutual(const Group& a, const Group& b);
  double solve_mutual(const Group& a, const Group& b);
  void solve_network(GlassResponse& out, double device_earth_ff);

  field::PanelSpec spec;
  field::LineRange lines;
  Films films;
  std::map<Height, field::SurfaceModel> surfaces;
  std::map<Key, Entry> bodies;
  /// Between the things of two groups, kept while they lie still.
  struct Mutual {
    const Body* a = nullptr;
    const Body* b = nullptr;
    field::Point apart;
    double ff = 0.0;
  };
  std::vector<Mutual> mutuals;
  std::vector<Group> groups;
  std::size_t group_count = 0;
  std::uint64_t clock = 0;
};

const field::SurfaceModel& GlassModel::State::surface(const Spacer& spacer) {
  const bool lifted = spacer.thickness_um > 0.0;
  const Height height =
      lifted ? Height{spacer.thickness_um, spacer.permittivity} : Height{0.0, 1.0};
  const auto found = surfaces.find(height);
  if (found != surfaces.end()) return found->second;
  field::PanelSpec raised = spec;
  // Series capacitance: a spacer counts as so much more cover glass.
  field::Layer& cover = raised.layers.front();
  if (lifted)
    cover.thickness_mm += spacer.thickness_um * 1e-3 * cover.permittivity / spacer.permittivity;
  return surfaces.emplace(height, field::SurfaceModel(kernels_of(raised))).first->second;
}

Body& GlassModel::State::body(Key key, const std::vector<OutlinePtr>& outlines) {
  constexpr std::size_t kMostBodies = 200;
  const auto found = bodies.find(key);
  if (found != bodies.end()) {
    found->second.used = clock;
    return *found->second.body;
  }
  if (bodies.size() >= kMostBodies) {
    // Those of this frame stay: they are in use.
    for (auto it = bodies.begin(); it != bodies.end();)
      it = it->second.used < clock ? bodies.erase(it) : std::next(it);
    for (Group& g : groups) g.known = false;
    mutuals.clear();
  }
  const Spacer spacer{key.height.first, key.height.second};
  const OutlinePtr outline = outlines.size() > 1 ? joined_outline(key, outlines) : outlines.front();
  Entry entry{outlines, std::make_unique<Body>(outline, surface(spacer)), clock};
  return *bodies.emplace(std::move(key), std::move(entry)).first->second.body;
}

Body& GlassModel::State::single(const Conductor& c) {
  const Height height = c.spacer.thickness_um > 0.0
                            ? Height{c.spacer.thickness_um, c.spacer.permittivity}
                            : Height{0.0, 1.0};
  return body({height, {{c.outline.get(), 0, 0}}}, {c.outline});
}

OutlinePtr GlassModel::State::joined_outline(const Key& key,
                                             const std::vector<OutlinePtr>& outlines) const {
  std::vector<field::Shape> shapes;
  for (std::size_t k = 0; k < outlines.size(); ++k)
    for (const field::Shape& s : outlines[k]->shapes())
      shapes.push_back(
          panel::moved(s, {key.members[k].x * kJoinGrid, key.members[k].y * kJoinGrid}));
  return std::make_shared<const Outline>(std::move(shapes));
}

GlassModel::State::Key GlassModel::State::key_of(const std::vector<const Conductor*>& parts) const {
  Key key;
  // Joined things are as near to the glass as the nearest of them.
  const Conductor* lowest =
      *std::min_element(parts.begin(), parts.end(), [](const Conductor* a, const Conductor* b) {
        return height_of(a->spacer) < height_of(b->spacer);
      });
  key.height = lowest->spacer.thickness_um > 0.0
                   ? Height{lowest->spacer.thickness_um, lowest->spacer.permittivity}
                   : Height{0.0, 1.0};
  for (const Conductor* c : parts)
    key.members.push_back({c->outline.get(), on_grid(c->place.x - parts.front()->place.x),
                           on_grid(c->place.y - parts.front()->place.y)});
  return key;
}

Body& GlassModel::State::joined(const std::vector<const Conductor*>& parts) {
  std::vector<OutlinePtr> outlines;
  for (const Conductor* c : parts) outlines.push_back(c->outline);
  return body(key_of(parts), outlines);
}

void GlassModel::State::fill_group(Group& out, const std::vector<const Conductor*>& parts) {
  out.earth_ff = 0.0;
  out.device_ff = 0.0;
  for (const Conductor* c : parts) {
    out.earth_ff = std::min(out.earth_ff + in_ff(c->earth_pf), kConnection);
    out.device_ff = std::min(out.device_ff + in_ff(c->device_pf), kConnection);
  }
  // A part that holds all others, none of them nearer to the glass, stands for the whole: a finger
  // in a puddle needs no new outline.
  Body* body = nullptr;
  field::Point place = parts.front()->place;
  for (const Conductor* outer : parts) {
    Body& candidate = single(*outer);
    const bool all = std::all_of(parts.begin(), parts.end(), [&](const Conductor* c) {
      return c == outer || (height_of(c->spacer) >= height_of(outer->spacer) &&
                            contains(candidate, outer->place, single(*c), c->place));
    });
    if (!all) continue;
    body = &candidate;
    place = outer->place;
    break;
  }
  if (body == nullptr) body = &joined(parts);
  const bool still =
      out.known && out.body == body && out.place.x == place.x && out.place.y == place.y;
  if (!still) out.coupling = body->couple(place, lines);
  out.body = body;
  out.place = place;
  out.known = true;
}

void GlassModel::State::group(const std::vector<Conductor>& conductors) {
  const std::size_t n = conductors.size();
  std::vector<std::size_t> leader(n);
  for (std::size_t k = 0; k < n; ++k) leader[k] = k;
  for (std::size_t a = 0; a < n; ++a) {
    for (std::size_t b = a + 1; b < n; ++b) {
      double gap = 0.0;
      if (leader[a] == leader[b] || !overlap(single(conductors[a]), conductors[a].place,
                                             single(conductors[b]), conductors[b].place, gap))
        continue;
      const std::size_t from = std::max(leader[a], leader[b]);
      const std::size_t to = std::min(leader[a], leader[b]);
      std::replace(leader.begin(), leader.end(), from, to);
    }
  }
  group_count = 0;
  std::vector<const Conductor*> parts;
  for (std::size_t k = 0; k < n; ++k) {
    if (leader[k] != k) continue;
    parts.clear();
    for (std::size_t j = k; j < n; ++j)
      if (leader[j] == k) parts.push_back(&conductors[j]);
    if (groups.size() <= group_count) groups.emplace_back();
    fill_group(groups[group_count++], parts);
  }
}

// The self capacitance of both together, as one conductor, tells how much of their two self
// capacitances is between them: with elastances P11 = 1 / C1, P22 = 1 / C2 and P12 = p,
//   C_both = (P11 + P22 - 2 p) / (P11 P22 - p^2).
double GlassModel::State::mutual(const Group& a, const Group& b) {
  double gap = 0.0;
  overlap(*a.body, a.place, *b.body, b.place, gap);
  if (gap > kNear || !a.body->patches().factorised() || !b.body->patches().factorised()) return 0.0;
  const field::Point apart{b.place.x - a.place.x, b.place.y - a.place.y};
  const auto found = std::find_if(mutuals.begin(), mutuals.end(), [&](const Mutual& m) {
    return m.a == a.body && m.b == b.body && m.apart.x == apart.x && m.apart.y == apart.y;
  });
  if (found != mutuals.end()) return found->ff;
  constexpr std::size_t kMostKept = 32;
  if (mutuals.size() >= kMostKept) mutuals.erase(mutuals.begin());
  mutuals.push_back({a.body, b.body, apart, solve_mutual(a, b)});
  return mutuals.back().ff;
}

double GlassModel::State::solve_mutual(const Group& a, const Group& b) {
  const field::PatchedObject& first = a.body->patches();
  const field::PatchedObject& second = b.body->patches();
  const double p11 = 1.0 / first.self();
  const double p22 = 1.0 / second.self();
  const double c = surface({}).joint_self(first, a.place, second, b.place);
  // c p^2 - 2 p + (p11 + p22 - c p11 p22) = 0, the root that is 0 for c = C1 + C2.
  const double last = p11 + p22 - c * p11 * p22;
  const double square = 1.0 - c * last;
  if (last <= 0.0 || square < 0.0) return 0.0;
  const double p = last / (1.0 + std::sqrt(square));
  return p / (p11 * p22 - p * p);
}

void GlassModel::State::solve_network(GlassResponse& out, double device_earth_ff) {
  const auto n = static_cast<Eigen::Index>(group_count);
  if (n == 0) return;
  // Node n is earth.
  Eigen::MatrixXd k = Eigen::MatrixXd::Zero(n + 1, n + 1);
  k(n, n) = device_earth_ff;
  for (Eigen::Index i = 0; i < n; ++i) {
    const Group& g = groups[static_cast<std::size_t>(i)];
    k(i, i) += g.coupling.self + g.earth_ff + g.device_ff;
    k(i, n) -= g.earth_ff;
    k(n, i) -= g.earth_ff;
    k(n, n) += g.earth_ff;
    for (Eigen::Index j = 0; j < i; ++j) {
      const double between = mutual(g, groups[static_cast<std::size_t>(j)]);
      k(i, j) -= between;
      k(j, i) -= between;
    }
  }
  const Eigen::MatrixXd inverse = k.ldlt().solve(Eigen::MatrixXd::Identity(n + 1, n + 1));
  for (Eigen::Index i = 0; i < n; ++i) {
    const field::Coupling& from = groups[static_cast<std::size_t>(i)].coupling;
    const Eigen::Index rows = from.to_row.size();
    const Eigen::Index own_columns = from.to_column.size();
    out.change.block(from.first_row, from.first_column, rows, own_columns) -= from.loss;
    out.hum.segment(from.first_column, own_columns) +=
        inverse(i, n) * device_earth_ff * from.to_column;
    for (Eigen::Index j = 0; j < n; ++j) {
      const field::Coupling& to = groups[static_cast<std::size_t>(j)].coupling;
      out.change.block(from.first_row, to.first_column, rows, to.to_column.size()).noalias() +=
          inverse(i, j) * from.to_row * to.to_column.transpose();
    }
  }
}

GlassModel::GlassModel(const field::PanelSpec& spec, field::SurfaceKernels kernels,
                       field::LineRange lines)
    : state_(std::make_unique<State>(spec, lines)) {
  state_->surfaces.emplace(State::Height{0.0, 1.0}, field::SurfaceModel(std::move(kernels)));
}
GlassModel::~GlassModel() = default;
GlassModel::GlassModel(GlassModel&&) noexcept = default;

void GlassModel::respond(GlassResponse& out, const std::vector<Conductor>& conductors,
                         const std::vector<Film>& films, double device_earth_pf) {
  State& s = *state_;
  ++s.clock;
  out.change.setZero(s.lines.rows, s.lines.columns);
  out.hum.setZero(s.lines.columns);
  s.group(conductors);
  s.solve_network(out, in_ff(device_earth_pf));
  const field::SurfaceKernels& kernels = s.surfaces.at({0.0, 1.0}).kernels();
  for (const Film& film : films) s.films.add(out.change, film, kernels);
}

double GlassModel::film_change(double thickness_um, double permittivity) {
  return state_->films.change(thickness_um, permittivity);
}

const field::PanelSpec& GlassModel::spec() const { return state_->spec; }
const field::PanelNumbers& GlassModel::numbers() const {
  return state_->surfaces.at({0.0, 1.0}).kernels().numbers;
}
field::LineRange GlassModel::lines() const { return state_->lines; }

double GlassModel::finger_change(double earth_pf) {
  const field::SurfaceModel& surface = state_->surface({});
  const int row = 5;
  const field::Point node{row * surface.kernels().column_pitch_mm,
                          row * surface.kernels().row_pitch_mm};
  const field::Coupling c =
      surface.couple(field::Footprint::disc(node, 8.0), {2 * row + 1, 2 * row + 1});
  return c.change(row, row, std::isinf(earth_pf) ? earth_pf : earth_pf * kFemtoPerPico);
}

}  // namespace bareglass::panel
