#include "bareglass/panel_model/glass_model.hpp"

#include <algorithm>
#include <cmath>

#include "films.hpp"
#include "glass_groups.hpp"

namespace bareglass::panel {

namespace {

/// Groups that feel each other, and their couplings, kept while all of them lie still.
struct Company {
  std::vector<std::size_t> members;  ///< indices of the groups
  std::vector<Group> as_solved;
  std::vector<field::Coupling> couplings;
  Eigen::MatrixXd between;
  bool used = false;
};

bool feel_each_other(const Group& a, const Group& b) {
  for (const Group::Part& p : a.parts) {
    for (const Group::Part& q : b.parts) {
      if (!p.body->patches().factorised() || !q.body->patches().factorised()) return false;
      double gap = 0.0;
      overlap(*p.body, p.place, *q.body, q.place, gap);
      if (gap <= field::SurfaceModel::kFeltApart) return true;
    }
  }
  return false;
}

}  // namespace

/// All of the model that is kept from frame to frame.
struct GlassModel::State {
  State(const field::PanelSpec& s, field::SurfaceKernels kernels, field::LineRange l)
      : spec(s), lines(l), films(s), bodies(s, std::move(kernels)) {}

  void gather();
  Company& company_of(const std::vector<std::size_t>& members);
  void solve(Company& company);
  void solve_network(GlassResponse& out, double device_earth_ff);

  field::PanelSpec spec;
  field::LineRange lines;
  Films films;
  Bodies bodies;
  std::vector<Group> groups;
  std::vector<Company> companies;
};

// Sorts the groups into companies and solves those that have changed.
void GlassModel::State::gather() {
  if (bodies.forgot()) companies.clear();
  const std::vector<std::size_t> leader = leaders(groups.size(), [&](std::size_t a, std::size_t b) {
    return feel_each_other(groups[a], groups[b]);
  });
  for (Company& c : companies) c.used = false;
  for (std::size_t k = 0; k < groups.size(); ++k) {
    if (leader[k] != k) continue;
    std::vector<std::size_t> members;
    for (std::size_t j = k; j < groups.size(); ++j)
      if (leader[j] == k) members.push_back(j);
    company_of(members).used = true;
  }
  companies.erase(
      std::remove_if(companies.begin(), companies.end(), [](const Company& c) { return !c.used; }),
      companies.end());
}

Company& GlassModel::State::company_of(const std::vector<std::size_t>& members) {
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
  std::vector<field::PlacedObject> objects;
  for (std::size_t k = 0; k < company.members.size(); ++k) {
    const Group& group = groups[company.members[k]];
    company.as_solved.push_back(group);
    for (const Group::Part& part : group.parts)
      objects.push_back(
          {&part.body->patches(), part.place, static_cast<int>(k), &part.body->model()});
  }
  const Group::Part& first = company.as_solved.front().parts.front();
  if (objects.size() == 1) {
    company.couplings = {first.body->couple(first.place, lines)};
    company.between = Eigen::MatrixXd::Zero(1, 1);
    return;
  }
  for (const Group& group : company.as_solved)
    for (const Group::Part& part : group.parts) part.body->prepare();
  company.couplings = first.body->model().couple_together(company.between, objects, lines);
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
    : state_(std::make_unique<State>(spec, std::move(kernels), lines)) {}
GlassModel::~GlassModel() = default;
GlassModel::GlassModel(GlassModel&&) noexcept = default;

void GlassModel::respond(GlassResponse& out, const std::vector<Conductor>& conductors,
                         const std::vector<Film>& films, double device_earth_pf) {
  State& s = *state_;
  s.bodies.next_frame();
  out.change.setZero(s.lines.rows, s.lines.columns);
  out.hum.setZero(s.lines.columns);
  s.groups = grouped(conductors, s.bodies);
  s.gather();
  s.solve_network(out, in_ff(device_earth_pf));
  const field::SurfaceKernels& kernels = s.bodies.surface({}).kernels();
  for (const Film& film : films) s.films.add(out.change, film, kernels);
}

double GlassModel::film_change(double thickness_um, double permittivity) {
  return state_->films.change(thickness_um, permittivity);
}

const field::PanelSpec& GlassModel::spec() const { return state_->spec; }
const field::PanelNumbers& GlassModel::numbers() const {
  return state_->bodies.surface({}).kernels().numbers;
}
field::LineRange GlassModel::lines() const { return state_->lines; }

double finger_share(const field::PanelSpec& spec, const std::string& panel_path) {
  constexpr int kLines = 12;  // a finger reaches less far than half of them
  GlassModel glass(spec, kernels_of(spec, panel_path), {kLines, kLines});
  return -glass.finger_change() / glass.numbers().node;
}

double GlassModel::finger_change(double earth_pf) {
  const field::SurfaceModel& surface = state_->bodies.surface({});
  const int row = 5;
  const field::Point node{row * surface.kernels().column_pitch_mm,
                          row * surface.kernels().row_pitch_mm};
  const field::Coupling c =
      surface.couple(field::Footprint::disc(node, 8.0), {2 * row + 1, 2 * row + 1});
  return c.change(row, row, std::isinf(earth_pf) ? earth_pf : in_ff(earth_pf));
}

}  // namespace bareglass::panel
