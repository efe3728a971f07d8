#include "bareglass/view/view_memory.hpp"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <sstream>

#include "bareglass/capture/output_file.hpp"
#include "bareglass/settings/toml_text.hpp"

namespace bareglass::view {

void ViewMemory::opened(const std::string& path) {
  if (path == "-" || path.empty()) return;
  std::error_code none;
  const std::filesystem::path whole = std::filesystem::absolute(path, none);
  const std::string kept = none ? path : whole.lexically_normal().string();
  recent.erase(std::remove(recent.begin(), recent.end(), kept), recent.end());
  recent.insert(recent.begin(), kept);
  if (recent.size() > kMostRecent) recent.resize(kMostRecent);
}

std::string view_memory_path() {
  const auto text = [](const char* name) {
    const char* value = std::getenv(name);
    return std::string(value != nullptr ? value : "");
  };
  // The specification: a path that is not absolute is to be ignored.
  std::string folder = text("XDG_CONFIG_HOME");
  if (folder.empty() || folder.front() != '/') {
    const std::string home = text("HOME");
    if (home.empty()) return {};
    folder = home + "/.config";
  }
  return folder + "/bareglass/window.toml";
}

ViewMemory load_view_memory(const std::string& path) {
  ViewMemory memory;
  if (path.empty()) return memory;
  try {
    const toml::table table = host::read_toml(path, "a window's memory in TOML");
    const auto within = [&](const char* name, int least, int& value) {
      const auto there = table[name].value<std::int64_t>();
      if (there && *there >= least && *there <= 8192) value = static_cast<int>(*there);
    };
    within("width", 640, memory.width);
    within("height", 480, memory.height);
    memory.layer = table["layer"].value_or(std::string());
    memory.bench_layer = table["bench_layer"].value_or(std::string());
    if (const toml::array* recent = table["recent"].as_array())
      for (const toml::node& entry : *recent)
        if (const auto name = entry.value<std::string>();
            name && memory.recent.size() < ViewMemory::kMostRecent)
          memory.recent.push_back(*name);
  } catch (const std::exception&) {
    return {};
  }
  return memory;
}

bool save_view_memory(const std::string& path, const ViewMemory& memory) {
  if (path.empty()) return false;
  try {
    std::filesystem::create_directories(std::filesystem::path(path).parent_path());
    toml::array recent;
    for (const std::string& name : memory.recent) recent.push_back(name);
    const toml::table table{{"width", memory.width},
                            {"height", memory.height},
                            {"layer", memory.layer},
                            {"bench_layer", memory.bench_layer},
                            {"recent", std::move(recent)}};
    std::ostringstream text;
    text << table << '\n';
    host::OutputFile file(path);
    file.write(text.str());
    file.finish();
    return true;
  } catch (const std::exception&) {
    return false;
  }
}

}  // namespace bareglass::view
