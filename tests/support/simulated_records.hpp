#pragma once
// Shipped scenarios for tests: loaded, changed where a test wants another story, and played into
// records on the simulated panel.

#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

#include "bareglass/capture/records.hpp"
#include "bareglass/panel/player.hpp"

namespace bareglass::support {

/// Names of all of fixtures/scenarios, sorted.
inline std::vector<std::string> scenario_names() {
  std::vector<std::string> names;
  for (const auto& entry :
       std::filesystem::directory_iterator(BAREGLASS_SOURCE_DIR "/fixtures/scenarios"))
    if (entry.path().extension() == ".toml") names.push_back(entry.path().stem().string());
  std::sort(names.begin(), names.end());
  return names;
}

/// A name with dashes as GoogleTest takes it for a parameter.
inline std::string test_name(std::string name) {
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
}

inline panel::Scenario scenario_named(const std::string& name) {
  return panel::load_scenario(BAREGLASS_SOURCE_DIR "/fixtures/scenarios/" + name + ".toml");
}

/// A scenario without most of the seconds that are dear to play: a hand or an arm that trembles,
/// large and solved anew for every frame. ScenarioFixtureText plays these to their end.
inline panel::Scenario without_dear_seconds(panel::Scenario scenario, const std::string& name) {
  if (name == "hand-resting" || name == "sleeve")
    scenario.duration_s = std::min(scenario.duration_s, 2.5);
  return scenario;
}

inline std::vector<host::Record> records_of(const panel::Scenario& scenario) {
  std::vector<host::Record> records;
  panel::play(scenario, [&](const host::Record& record) { records.push_back(record); });
  return records;
}

inline std::vector<host::Record> records_of(const std::string& name) {
  return records_of(scenario_named(name));
}

}  // namespace bareglass::support
