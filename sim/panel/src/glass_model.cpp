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
/// Conductors further apart than this do not feel each other.
constexpr double kNear = field::SurfaceModel::kFeltApart;  // mm
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
    Body* body = nullptr;
    field::Point place;
    double earth_ff = 0.0;
    double device_ff = 0.0;

    bool same_place(const Group& o) const {
      return body == o.body && place.x == o.place.x && place.y == o.place.y;
    }
  };
  /// Groups that feel each other, and their couplings, kept while all of them lie still.
  struct Company {
    std::vector<std::size_t> members;  ///< indices of the groups
    std::vector<Group> as_solved;
    std::vector<field::Coupling> couplings;
    Eigen::MatrixXd between;
    bool used = false;
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
  bool feel_each_other(const Group& a, const Group& b) const;
  void gather();
  Company& company_of(const std::vector<std::size_t>& members);
  void solve(Company& company);
  void solve_network(GlassResponse& out, double device_earth_ff);

  field::PanelSpec spec;
  field::LineRange lines;
  Films films;
  std::map<Height, field::SurfaceModel> surfaces;
  std::map<Key, Entry> bodies;
  std::vector<Group> groups;
  std::vector<Company> companies;
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
    companies.clear();
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
  out.body = body;
  out.place = place;
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
  groups.clear();
  std::vector<const Conductor*> parts;
  for (std::size_t k = 0; k < n; ++k) {
    if (leader[k] != k) continue;
    parts.clear();
    for (std::size_t j = k; j < n; ++j)
      if (leader[j] == k) parts.push_back(&conductors[j]);
    fill_group(groups.emplace_back(), parts);
  }
}

bool GlassModel::State::feel_each_other(const Group& a, const Group& b) const {
  // Patches of different heights above the glass do not see each other.
  if (!a.body->patches().factorised() || !b.body->patches().factorised() ||
      &a.body->model() != &b.body->model())
    return false;
  double gap = 0.0;
  overlap(*a.body, a.place, *b.body, b.place, gap);
  return gap <= kNear;
}

// Sorts the groups into companies and solves those that have changed.
void GlassModel::State::gather() {
  const std::size_t n = groups.size();
  std::vector<std::size_t> leader(n);
  for (std::size_t k = 0; k < n; ++k) leader[k] = k;
  for (std::size_t a = 0; a < n; ++a)
    for (std::size_t b = a + 1; b < n; ++b)
      if (leader[a] != leader[b] && feel_each_other(groups[a], groups[b]))
        std::replace(leader.begin(), leader.end(), std::max(leader[a], leader[b]),
                     std::min(leader[a], leader[b]));
  for (Company& c : companies) c.used = false;
  for (std::size_t k = 0; k < n; ++k) {
    if (leader[k] != k) continue;
    std::vector<std::size_t> members;
    for (std::size_t j = k; j < n; ++j)
      if (leader[j] == k) members.push_back(j);
    company_of(members).used = true;
  }
  companies.erase(
      std::remove_if(companies.begin(), companies.end(), [](const Company& c) { return !c.used; }),
      companies.end());
}

GlassModel::State::Company& GlassModel::State::company_of(const std::vector<std::size_t>& members) {
  const auto found = std::find_if(companies.begin(), companies.end(), [&](const Company& c) {
    return !c.used && c.as_solved.size() == members.size() &&
           std::equal(members.begin(), members.end(), c.as_solved.begin(),
                      [&](std::size_t g, const Group& was) { return groups[g].same_place(was); });
  });
  const bool known = found != companies.end();
  Company& company = known ? *found : companies.emplace_back();
  company.members = members;
  if (!known) solve(company);
  return company;
}

void GlassModel::State::solve(Company& company) {
  for (const std::size_t g : company.members) company.as_solved.push_back(groups[g]);
  if (company.members.size() == 1) {
    const Group& only = groups[company.members.front()];
    company.couplings = {only.body->couple(only.place, lines)};
    company.between = Eigen::MatrixXd::Zero(1, 1);
    return;
  }
  std::vector<field::PlacedObject> objects;
  for (const std::size_t g : company.members) {
    groups[g].body->prepare();
    objects.push_back({&groups[g].body->patches(), groups[g].place});
  }
  const field::SurfaceModel& model = groups[company.members.front()].body->model();
  company.couplings = model.couple_together(company.between, objects, lines);
}

void GlassModel::State::solve_network(GlassResponse& out, double device_earth_ff) {
  const auto n = static_cast<Eigen::Index>(groups.size());
  if (n == 0) return;
  // Node n is earth.
  Eigen::MatrixXd k = Eigen::MatrixXd::Zero(n + 1, n + 1);
  k(n, n) = device_earth_ff;
  std::vector<const field::Coupling*> coupling(groups.size());
  for (const Company& company : companies) {
    for (std::size_t a = 0; a < company.members.size(); ++a) {
      coupling[company.members[a]] = &company.couplings[a];
      const auto i = static_cast<Eigen::Index>(company.members[a]);
      for (std::size_t b = 0; b < company.members.size(); ++b)
        k(i, static_cast<Eigen::Index>(company.members[b])) -=
            company.between(static_cast<Eigen::Index>(a), static_cast<Eigen::Index>(b));
    }
  }
  for (Eigen::Index i = 0; i < n; ++i) {
    const Group& g = groups[static_cast<std::size_t>(i)];
    k(i, i) += coupling[static_cast<std::size_t>(i)]->self + g.earth_ff + g.device_ff;
    k(i, n) -= g.earth_ff;
    k(n, i) -= g.earth_ff;
    k(n, n) += g.earth_ff;
  }
  const Eigen::MatrixXd inverse = k.ldlt().solve(Eigen::MatrixXd::Identity(n + 1, n + 1));
  for (Eigen::Index i = 0; i < n; ++i) {
    const field::Coupling& from = *coupling[static_cast<std::size_t>(i)];
    const Eigen::Index rows = from.to_row.size();
    const Eigen::Index own_columns = from.to_column.size();
    out.change.block(from.first_row, from.first_column, rows, own_columns) -= from.loss;
    out.hum.segment(from.first_column, own_columns) +=
        inverse(i, n) * device_earth_ff * from.to_column;
    for (Eigen::Index j = 0; j < n; ++j) {
      const field::Coupling& to = *coupling[static_cast<std::size_t>(j)];
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
  s.gather();
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
