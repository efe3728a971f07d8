#include "bareglass/touch/touch_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/settings/toml_text.hpp"

namespace bareglass::host {

namespace {

constexpr std::size_t kLongestName = 80;

class PlanReader {
 public:
  explicit PlanReader(std::string path) : path_(std::move(path)) {}

  TouchPlan read(const toml::table& file) {
    using Set = std::function<void(const std::string&, const toml::node&)>;
    TouchLimits& l = plan_.limits;
    const auto millimetres = [this](double& field) {
      return Set([this, &field](const std::string& k, const toml::node& v) {
        field = number(k, v, 0.0, 1000.0);
      });
    };
    const auto count = [this](int& field) {
      return Set([this, &field](const std::string& k, const toml::node& v) {
        field = static_cast<int>(number(k, v, 0.0, 1000000.0));
      });
    };
    const std::map<std::string, Set> plan = {
        {"name", [this](const std::string& k, const toml::node& v) { plan_.name = text(k, v); }},
        {"reach_mm", [this](const std::string& k,
                            const toml::node& v) { plan_.reach_mm = number(k, v, 1.0, 100.0); }},
        {"line_against", [this](const std::string& k, const toml::node& v) { against(k, v); }}};
    const std::map<std::string, Set> limits = {
        {"accuracy_median_mm", millimetres(l.accuracy_median_mm)},
        {"accuracy_p95_mm", millimetres(l.accuracy_p95_mm)},
        {"linearity_max_mm", millimetres(l.linearity_max_mm)},
        {"linearity_rms_mm", millimetres(l.linearity_rms_mm)},
        {"jitter_rms_mm", millimetres(l.jitter_rms_mm)},
        {"coverage_percent",
         [this, &l](const std::string& k, const toml::node& v) {
           l.coverage_percent = number(k, v, 0.0, 100.0);
         }},
        {"dropped", count(l.dropped)},
        {"extra", count(l.extra)}};
    for (const auto& [name, node] : file) {
      const std::string key(name.str());
      if (key == "step") continue;
      if (key != "plan" && key != "limits")
        fail(node,
             fmt::format("a table \"plan\" or \"limits\" or tables \"step\", not \"{}\"", key));
      const toml::table* table = node.as_table();
      if (table == nullptr) fail(node, fmt::format("a table for \"{}\"", key));
      each(*table, key, key == "plan" ? plan : limits);
    }
    read_steps(file);
    return std::move(plan_);
  }

 private:
  [[noreturn]] void fail(const toml::node& node, const std::string& expected) const {
    throw CaptureError(path_, line_of(node), "expected " + expected);
  }

  template <typename Keys>
  void each(const toml::table& table, const std::string& place, const Keys& keys) {
    for (const auto& [name, node] : table) {
      const auto found = keys.find(std::string(name.str()));
      const std::string full = fmt::format("{}.{}", place, name.str());
      if (found == keys.end()) fail(node, fmt::format("a known key instead of \"{}\"", full));
      found->second(full, node);
    }
  }

  double number(const std::string& key, const toml::node& node, double low, double high) const {
    const auto value = node.is_number() ? node.value<double>() : std::nullopt;
    if (!value || !(*value >= low && *value <= high))
      fail(node, fmt::format("a number from {} to {} for \"{}\"", low, high, key));
    return *value;
  }

  std::string text(const std::string& key, const toml::node& node) const {
    const auto value = node.value_exact<std::string>();
    if (!value || value->empty() || value->size() > kLongestName)
      fail(node, fmt::format("a text of 1 to {} bytes for \"{}\"", kLongestName, key));
    return plain::harmless_lines(*value);
  }

  void against(const std::string& key, const toml::node& node) {
    const auto word = node.value_exact<std::string>();
    if (!word || (*word != "fitted" && *word != "intended"))
      fail(node, fmt::format("\"fitted\" or \"intended\" for \"{}\"", key));
    plan_.against_intended = *word == "intended";
  }

  PointMm place(const std::string& key, const toml::node& node) const {
    const toml::array* pair = node.as_array();
    if (pair == nullptr || pair->size() != 2)
      fail(node, fmt::format("a place [x, y] in mm for \"{}\"", key));
    return {number(key, (*pair)[0], 0.0, 10000.0), number(key, (*pair)[1], 0.0, 10000.0)};
  }

  void read_steps(const toml::table& file) {
    const toml::node* node = file.get("step");
    const toml::array* steps = node == nullptr ? nullptr : node->as_array();
    if (steps == nullptr || steps->empty())
      throw CaptureError(path_, "whole file", "expected at least one table [[step]]");
    if (steps->size() > TouchPlan::kMostSteps)
      fail(*node, fmt::format("at most {} steps", TouchPlan::kMostSteps));
    for (const toml::node& step : *steps) {
      if (step.as_table() == nullptr) fail(step, "tables [[step]]");
      plan_.steps.push_back(read_step(*step.as_table()));
      if (plan_.steps.back().from_s.has_value() != plan_.steps.front().from_s.has_value())
        fail(step, "times (from_s and until_s) for every step or for none");
    }
  }

  TouchStep read_step(const toml::table& table) {
    TouchStep step;
    std::optional<PointMm> point, from, to;
    using Set = std::function<void(const std::string&, const toml::node&)>;
    const auto put = [this](auto& field) {
      return Set(
          [this, &field](const std::string& k, const toml::node& v) { field = place(k, v); });
    };
    const auto second = [this](std::optional<double>& field) {
      return Set([this, &field](const std::string& k, const toml::node& v) {
        field = number(k, v, 0.0, 86400.0);
      });
    };
    const auto word = [this](std::string& field) {
      return Set([this, &field](const std::string& k, const toml::node& v) { field = text(k, v); });
    };
    each(table, "step",
         std::map<std::string, Set>{{"name", word(step.name)},
                                    {"prompt", word(step.prompt)},
                                    {"point_mm", put(point)},
                                    {"from_mm", put(from)},
                                    {"to_mm", put(to)},
                                    {"from_s", second(step.from_s)},
                                    {"until_s", second(step.until_s)}});
    if (step.name.empty()) fail(table, "a \"name\" in every step");
    if (point ? (from || to) : !(from && to))
      fail(table, "either \"point_mm\" or \"from_mm\" and \"to_mm\" in a step");
    if (step.from_s.has_value() != step.until_s.has_value() ||
        (step.from_s && *step.from_s >= *step.until_s))
      fail(table, "\"from_s\" before \"until_s\", or neither");
    step.kind = point ? TouchStep::Kind::point : TouchStep::Kind::line;
    step.from = point ? *point : *from;
    step.to = point ? *point : *to;
    const double length = std::hypot(step.to.x - step.from.x, step.to.y - step.from.y);
    if (!point && length < 1.0) fail(table, "a line of at least 1 mm");
    return step;
  }

  std::string path_;
  TouchPlan plan_;
};

TouchStep point_at(const std::string& name, PointMm at) {
  TouchStep s;
  s.name = name;
  s.from = s.to = at;
  s.prompt = "Touch the mark for one second.";
  return s;
}

TouchStep line_along(const std::string& name, PointMm from, PointMm to) {
  TouchStep s;
  s.kind = TouchStep::Kind::line;
  s.name = name;
  s.from = from;
  s.to = to;
  s.prompt = "Draw along the line without lifting the finger.";
  return s;
}

}  // namespace

TouchPlan default_touch_plan(const Settings& settings) {
  const double px = settings.pitch_col_um / 1000.0, py = settings.pitch_row_um / 1000.0;
  const double width = settings.shape.cols * px, height = settings.shape.rows * py;
  TouchPlan plan;
  plan.name = "nine points, four edges, two diagonals";
  // The outer points lie on the second line, where a centroid still has both neighbours.
  const double inset_x = std::min(1.5 * px, width / 4), inset_y = std::min(1.5 * py, height / 4);
  const double xs[] = {inset_x, width / 2, width - inset_x};
  const double ys[] = {inset_y, height / 2, height - inset_y};
  const char* const names[3][3] = {{"top left", "top", "top right"},
                                   {"left", "middle", "right"},
                                   {"bottom left", "bottom", "bottom right"}};
  for (int r = 0; r < 3; ++r)
    for (int c = 0; c < 3; ++c) plan.steps.push_back(point_at(names[r][c], {xs[c], ys[r]}));
  const double left = px / 2, top = py / 2, right = width - px / 2, bottom = height - py / 2;
  plan.steps.push_back(line_along("top edge", {left, top}, {right, top}));
  plan.steps.push_back(line_along("right edge", {right, top}, {right, bottom}));
  plan.steps.push_back(line_along("bottom edge", {right, bottom}, {left, bottom}));
  plan.steps.push_back(line_along("left edge", {left, bottom}, {left, top}));
  plan.steps.push_back(line_along("diagonal down", {left, top}, {right, bottom}));
  plan.steps.push_back(line_along("diagonal up", {left, bottom}, {right, top}));
  return plan;
}

TouchPlan read_touch_plan(const std::string& path) {
  TouchPlan plan = PlanReader(path).read(read_toml(path, "a TOML plan file"));
  if (plan.name.empty()) plan.name = "plan without a name";
  return plan;
}

void expect_on_panel(const TouchPlan& plan, const Settings& settings, const std::string& file) {
  const double width = settings.shape.cols * settings.pitch_col_um / 1000.0;
  const double height = settings.shape.rows * settings.pitch_row_um / 1000.0;
  for (const TouchStep& s : plan.steps)
    for (const PointMm& p : {s.from, s.to})
      if (p.x > width || p.y > height)
        throw CaptureError(
            file, fmt::format("step \"{}\"", s.name),
            fmt::format("expected places on this panel of {:.0f} x {:.0f} mm, not [{}, {}]", width,
                        height, p.x, p.y));
}

}  // namespace bareglass::host
