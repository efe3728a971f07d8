#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "bareglass/panel/scenario_tables.hpp"
#include "bareglass/settings/toml_text.hpp"
#include "bareglass/view/lesson.hpp"
#include "bareglass/view/lesson_run.hpp"
#include "embedded_texts.hpp"
#include "lesson_words.hpp"

namespace bareglass::view {

namespace {

using panel::Section;

constexpr double kLongestStep_s = 600.0;
constexpr char kWhat[] = "a TOML lesson";

bool has_thing(const panel::Scenario& scene, const std::string& name) {
  return std::any_of(scene.things.begin(), scene.things.end(),
                     [&](const panel::ThingSpec& t) { return t.name == name; });
}

/// What is wrong with a quantity and its argument; empty: nothing.
std::string objection(const Phrase& phrase, const panel::Scenario& scene) {
  const auto takes = LessonWatch::is_quantity(phrase.quantity);
  if (!takes)
    return fmt::format("expected a quantity ({}), not \"{}\"", LessonWatch::quantity_names(),
                       phrase.quantity);
  switch (*takes) {
    case LessonWatch::Takes::nothing:
      if (phrase.argument.empty()) return {};
      return fmt::format("expected nothing behind \"{}\", not \"{}\"", phrase.quantity,
                         phrase.argument);
    case LessonWatch::Takes::thing:
      if (has_thing(scene, phrase.argument)) return {};
      return fmt::format("expected the name of a [[scene.thing]] behind \"{}\", not \"{}\"",
                         phrase.quantity, phrase.argument);
    case LessonWatch::Takes::node:
      break;
  }
  const auto node = node_of(phrase.argument);
  if (node && node->row < scene.setup.rows && node->column < scene.setup.columns) return {};
  return fmt::format("expected a row and a column of the panel behind \"{}\", not \"{}\"",
                     phrase.quantity, phrase.argument);
}

std::string read_text(const Section& s, const char* key, const panel::Scenario& scene) {
  const std::string text = s.text(key);
  std::string problem;
  for_each_placeholder(text, [&](const std::string& inside) {
    if (problem.empty()) problem = objection(phrase_of(inside), scene);
    return std::string();
  });
  if (!problem.empty()) s.fail(key, "in a placeholder: " + problem);
  return text;
}

LessonChoice read_choice(const Section& s, const panel::Scenario& scene) {
  s.allow_only({"text", "when"});
  LessonChoice out;
  out.text = s.text("text");
  for (const std::string& text : s.texts("when")) {
    std::string problem;
    const auto condition = condition_of(text, problem);
    if (condition) problem = objection({condition->quantity, condition->argument}, scene);
    if (!problem.empty()) s.fail("when", fmt::format("\"{}\": {}", text, problem));
    out.when.push_back(*condition);
  }
  return out;
}

panel::Scenario read_fresh(const Section& s, panel::Scenario scene) {
  s.allow_only({"policy", "glass_mm", "factory_reference"});
  scene.policy = static_cast<StartPolicy>(s.word("policy", static_cast<std::size_t>(scene.policy),
                                                 {"lock", "wait", "adopt", "service"}));
  double& glass_mm = scene.panel.layers.front().thickness_mm;
  glass_mm = s.number("glass_mm", glass_mm, 0.3, 10, " mm");
  scene.factory_reference = s.flag("factory_reference", scene.factory_reference);
  return scene;
}

LessonStep read_step(const Section& s, const panel::Scenario& scene, bool first) {
  s.allow_only({"title", "text", "question", "choice", "after", "fresh", "event", "run_s"});
  LessonStep out;
  out.title = s.text("title");
  out.text = read_text(s, "text", scene);
  out.run_s = s.number("run_s", 0.0, 0, kLongestStep_s, " s");
  if (s.has("after")) out.after = read_text(s, "after", scene);
  if (s.has("fresh") || first) out.fresh = read_fresh(s.table("fresh"), scene);
  for (const Section& e : s.tables("event")) {
    out.events.push_back(panel::read_event(e, scene));
    if (out.events.back().at_s > out.run_s)
      e.fail("at_s", fmt::format("expected a time within the step's {} s", out.run_s));
  }
  std::stable_sort(out.events.begin(), out.events.end(),
                   [](const panel::Event& a, const panel::Event& b) { return a.at_s < b.at_s; });
  const std::vector<Section> choices = s.tables("choice");
  if (!s.has("question")) {
    if (!choices.empty()) s.fail("choice", "expected only together with a question");
    return out;
  }
  out.question = read_text(s, "question", scene);
  if (choices.size() < 2 || choices.size() > 5)
    s.fail("question", "expected 2 to 5 [[step.choice]]");
  for (const Section& c : choices) out.choices.push_back(read_choice(c, scene));
  return out;
}

panel::Scenario read_lesson_scene(const Section& s, const std::string& file) {
  panel::Scenario defaults;
  defaults.unit_id = "training-unit-01";
  defaults.story = "A lesson.";
  panel::Scenario scene = panel::read_scene(s, defaults, file);
  // A lesson begins with the power off: the first act is to switch it on.
  panel::Event off;
  off.word = "power_off";
  off.action = panel::Action::power_off;
  scene.events.insert(scene.events.begin(), off);
  return scene;
}

Lesson read(const toml::table& table, const std::string& file) {
  const Section root(table, file, "");
  root.allow_only({"title", "about", "order", "scene", "step"});
  Lesson out;
  out.name = std::filesystem::path(file).stem().string();
  out.title = root.text("title");
  out.about = root.text("about");
  out.order = static_cast<int>(root.whole("order", 1000, 0, 100000));
  if (!root.has("scene")) root.fail("scene", "missing; expected a table [scene]");
  out.scene = read_lesson_scene(root.table("scene"), file);
  for (const Section& s : root.tables("step"))
    out.steps.push_back(read_step(s, out.scene, out.steps.empty()));
  if (out.steps.empty()) root.fail("step", "missing; expected at least one [[step]]");
  return out;
}

}  // namespace

Lesson parse_lesson(const std::string& text, const std::string& file) {
  return read(host::parse_toml(text, file, kWhat), file);
}

Lesson load_lesson(const std::string& path) {
  return parse_lesson(host::read_toml_text(path, kWhat), path);
}

const std::vector<Lesson>& built_in_lessons() {
  static const std::vector<Lesson> kLessons = [] {
    std::vector<Lesson> out;
    for (const EmbeddedText& file : embedded_lessons())
      out.push_back(parse_lesson(file.text, file.name));
    std::sort(out.begin(), out.end(),
              [](const Lesson& a, const Lesson& b) { return a.order < b.order; });
    return out;
  }();
  return kLessons;
}

}  // namespace bareglass::view
