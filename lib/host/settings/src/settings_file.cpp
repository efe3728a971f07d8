#include "bareglass/settings/settings_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <limits>
#include <string_view>
#include <type_traits>
#include <vector>

#include "bareglass/settings/setting_words.hpp"
#include "bareglass/settings/settings_table.hpp"
#include "bareglass/settings/toml_text.hpp"

namespace bareglass::host {

namespace {

class SettingsReader {
 public:
  SettingsReader(std::string path, SettingsFile& file)
      : path_(std::move(path)), s_(file.settings), accept_(file.accept) {}

  void read(const toml::table& file) {
    if (file.empty())
      throw CaptureError(path_, "",
                         "expected at least one table such as [start], the file has none");
    for (const auto& [name, node] : file) {
      const toml::table* table = node.as_table();
      if (table == nullptr)
        fail(node, fmt::format("a table instead of the key \"{}\"", name.str()));
      if (!is_table(name.str()))
        fail(node, fmt::format("one of the tables {} instead of [{}]", table_names(), name.str()));
      for (const auto& [key, value] : *table) {
        const std::string place = fmt::format("{}.{}", name.str(), key.str());
        if (!set(place, value)) fail(value, fmt::format("a known key instead of \"{}\"", place));
      }
    }
  }

 private:
  [[noreturn]] void fail(const toml::node& node, const std::string& expected) const {
    throw CaptureError(path_, line_of(node), "expected " + expected);
  }

  std::vector<std::string> tables() {
    std::vector<std::string> names;
    for_each_setting(s_, [&](const char* table, const char*, auto&) {
      if (names.empty() || names.back() != table) names.emplace_back(table);
    });
    names.emplace_back("accept");
    return names;
  }
  bool is_table(std::string_view name) {
    const std::vector<std::string> known = tables();
    return std::find(known.begin(), known.end(), name) != known.end();
  }
  std::string table_names() { return fmt::format("[{}]", fmt::join(tables(), "], [")); }

  template <typename T>
  void take(T& field, const std::string& place, const toml::node& node) {
    const auto value = node.value_exact<std::int64_t>();
    const auto most = static_cast<std::int64_t>(std::numeric_limits<T>::max());
    if (!value || *value < 0 || *value > most)
      fail(node, fmt::format("a whole number from 0 to {} for \"{}\"", most, place));
    field = static_cast<T>(*value);
  }

  void take(StartPolicy& field, const std::string& place, const toml::node& node) {
    const auto word = node.value_exact<std::string>();
    for (const StartPolicy p :
         {StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt, StartPolicy::service})
      if (word && *word == text::policy(p)) {
        field = p;
        return;
      }
    fail(node, fmt::format("\"lock\", \"wait\", \"adopt\" or \"service\" for \"{}\"", place));
  }

  void take(bool& field, const std::string& place, const toml::node& node) {
    const auto value = node.value_exact<bool>();
    if (!value) fail(node, fmt::format("true or false for \"{}\"", place));
    field = *value;
  }

  bool set(const std::string& k, const toml::node& v) {
    bool known = false;
    for_each_setting(s_, [&](const char* table, const char* key, auto& field) {
      if (known || k != fmt::format("{}.{}", table, key)) return;
      take(field, k, v);
      known = true;
    });
    return known || set_accept(k, v);
  }

  bool share(double& field, const std::string& place, const toml::node& node, double low,
             double high) {
    const auto value = node.is_number() ? node.value<double>() : std::nullopt;
    if (!value || !(*value >= low && *value <= high))
      fail(node, fmt::format("a number from {} to {} for \"{}\"", low, high, place));
    field = *value;
    return true;
  }

  bool set_accept(const std::string& k, const toml::node& v) {
    AcceptLimits& a = accept_;
    if (k == "accept.max_noise_percent") return share(a.max_noise_percent, k, v, 0.01, 100);
    if (k == "accept.max_node_noise_percent")
      return share(a.max_node_noise_percent, k, v, 0.01, 100);
    if (k == "accept.max_departure_percent") return share(a.max_departure_percent, k, v, 0.1, 1000);
    if (k == "accept.max_non_uniformity_percent")
      return share(a.max_non_uniformity_percent, k, v, 0.1, 1000);
    if (k == "accept.max_whole_shift_percent")
      return share(a.max_whole_shift_percent, k, v, 0.1, 100);
    if (k == "accept.bare_glass") return take(a.bare_glass, k, v), true;
    if (k == "accept.sound_lines") return take(a.sound_lines, k, v), true;
    if (k != "accept.start_ups") return false;
    const auto value = v.value_exact<std::int64_t>();
    if (!value || *value < 0 || *value > 1000)
      fail(v, fmt::format("a whole number from 0 to 1000 for \"{}\"", k));
    a.start_ups = static_cast<int>(*value);
    return true;
  }

  std::string path_;
  Settings& s_;
  AcceptLimits& accept_;
};

/// The line of a setting; "settings" if it is a default that another one does not go with.
std::string place_of(SettingsField field, const toml::table& file) {
  for (const auto& [name, node] : file)
    if (const toml::node* value = node.as_table()->get(name_of(field))) return line_of(*value);
  return "settings";
}

}  // namespace

Settings read_settings(const std::string& path) { return read_settings_file(path).settings; }

SettingsFile read_settings_file(const std::string& path) {
  SettingsFile file;
  const toml::table toml = read_toml(path, "a TOML settings file");
  SettingsReader(path, file).read(toml);
  file.names_finger = toml.at_path("panel.finger_counts").is_integer();
  Settings checked = file.settings;
  if (checked.shape == Shape{}) checked.shape = {2, 2};  // the dump will give the real one
  const SettingsField wrong = validate(checked);
  if (wrong != SettingsField::none)
    throw CaptureError(path, place_of(wrong, toml), text::wrong_setting(wrong, checked));
  return file;
}

}  // namespace bareglass::host
