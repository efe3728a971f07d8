// Every file in TOML. The first byte says which reader gets the rest.

#include "bareglass/advise/next_steps.hpp"
#include "bareglass/capture/error.hpp"
#include "bareglass/field/panel_spec.hpp"
#include "bareglass/panel/reference_table.hpp"
#include "bareglass/panel/scenario.hpp"
#include "bareglass/plain/toml_guard.hpp"
#include "bareglass/settings/settings_file.hpp"
#include "bareglass/touch/touch_plan.hpp"
#include "bareglass/view/lesson.hpp"
#include "bareglass/view/view_memory.hpp"
#include "memory_file.hpp"

namespace bareglass::fuzz {
namespace {

int depth_of(const toml::node& node) {
  int deepest = 0;
  if (const auto* table = node.as_table())
    for (const auto& [key, value] : *table) deepest = std::max(deepest, depth_of(value));
  if (const auto* array = node.as_array())
    for (const toml::node& value : *array) deepest = std::max(deepest, depth_of(value));
  return deepest + 1;
}

// The guard sees what the parser sees: nothing gets through that is nested beyond what dots within
// brackets can make.
void parse_alone(const std::string& text) {
  try {
    constexpr int kMost = plain::kMostTomlLevels;
    require(depth_of(plain::parse_toml(text, "x")) <= (kMost + 1) * (kMost + 1),
            "the guard knows how deeply a text is nested");
  } catch (const plain::TomlError& e) {
    require(e.what()[0] != '\0', "an error says what was found");
  }
}

void settings(const std::string& path) {
  const host::SettingsFile file = host::read_settings_file(path);
  Settings checked = file.settings;
  if (checked.shape == Shape{}) checked.shape = {2, 2};
  require(validate(checked) == SettingsField::none, "settings that are read are valid");
}

void plan(const std::string& path) {
  const host::TouchPlan read = host::read_touch_plan(path);
  require(!read.steps.empty() && read.steps.size() <= host::TouchPlan::kMostSteps,
          "a plan has steps, and no more than it may");
  for (const host::TouchStep& step : read.steps) require_harmless(step.name + step.prompt);
}

void scenario(const std::string& text) {
  const panel::Scenario read = panel::parse_scenario(text, "x.toml");
  require_harmless(read.story + read.unit_id);
  for (const panel::ThingSpec& thing : read.things) require_harmless(thing.name);
}

void panel_file(const std::string& text) {
  try {
    require_harmless_line(field::parse_panel(text, "x.toml").name);
  } catch (const field::PanelError& e) {
    require(std::string(e.what()).rfind("x.toml", 0) == 0, "an error names its file");
  }
}

void read(std::uint8_t which, const std::uint8_t* data, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  switch (which % 9) {
    case 0:
      return settings(MemoryFile(data, size).path());
    case 1:
      return plan(MemoryFile(data, size).path());
    case 2:
      return panel_file(text);
    case 3:
      return scenario(text);
    case 4:
      return require_harmless(view::parse_lesson(text, "x.toml").title);
    case 5:
      require(!host::parse_steps(text, "x.toml").rules.empty(), "steps have rules");
      return;
    case 6:
      panel::parse_reference(text, "x.toml");
      return;
    case 7:
      view::load_view_memory(MemoryFile(data, size).path());
      return;
    default:
      return parse_alone(text);
  }
}

}  // namespace
}  // namespace bareglass::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  try {
    bareglass::fuzz::read(data[0], data + 1, size - 1);
  } catch (const bareglass::host::CaptureError& e) {
    bareglass::fuzz::require_harmless_line(e.what());
  }
  return 0;
}
