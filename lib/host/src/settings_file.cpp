#include "bareglass/host/settings_file.hpp"

#include <fmt/format.h>

#include <cstdint>
#include <limits>
#include <type_traits>

#define TOML_EXCEPTIONS 1
#include <toml++/toml.h>

#include "bareglass/host/capture/error.hpp"
#include "bareglass/host/text.hpp"

namespace bareglass::host {

namespace {

std::string line_of(const toml::node& node) {
  return fmt::format("line {}", node.source().begin.line);
}

class Reader {
 public:
  Reader(std::string path, SettingsFile& file)
      : path_(std::move(path)), s_(file.settings), accept_(file.accept) {}

  void read(const toml::table& file) {
    for (const auto& [name, node] : file) {
      const toml::table* table = node.as_table();
      if (table == nullptr)
        fail(node, fmt::format("a table instead of the key \"{}\"", name.str()));
      for (const auto& [key, value] : *table) {
        const std::string place = fmt::format("{}.{}", name.str(), key.str());
        if (!set(place, value)) fail(value, fmt::format("a known key instead of \"{}\"", place));
      }
    }
  }

 private:
  [[noreturn]] void fail(const toml::node& node, const std::string& expected) const {
    throw CaptureError(path_, line_of(node), expected);
  }

  template <typename T>
  bool number(T& field, const std::string& place, const toml::node& node) {
    const auto value = node.value_exact<std::int64_t>();
    const auto most = static_cast<std::int64_t>(std::numeric_limits<T>::max());
    if (!value || *value < 0 || *value > most)
      fail(node, fmt::format("a whole number from 0 to {} for \"{}\"", most, place));
    field = static_cast<T>(*value);
    return true;
  }

  bool policy(const std::string& place, const toml::node& node) {
    const auto word = node.value_exact<std::string>();
    for (const StartPolicy p :
         {StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt, StartPolicy::service})
      if (word && *word == text::policy(p)) {
        s_.policy = p;
        return true;
      }
    fail(node, fmt::format("\"lock\", \"wait\", \"adopt\" or \"service\" for \"{}\"", place));
  }

  bool set(const std::string& k, const toml::node& v) {
    return set_panel(k, v) || set_contacts(k, v) || set_surface(k, v) || set_start(k, v) ||
           set_accept(k, v);
  }

  bool set_panel(const std::string& k, const toml::node& v) {
    if (k == "panel.rows") return number(s_.shape.rows, k, v);
    if (k == "panel.columns") return number(s_.shape.cols, k, v);
    if (k == "panel.finger_counts") return number(s_.finger_counts, k, v);
    if (k == "panel.pitch_row_um") return number(s_.pitch_row_um, k, v);
    if (k == "panel.pitch_col_um") return number(s_.pitch_col_um, k, v);
    if (k == "panel.frame_period_us") return number(s_.frame_period_us, k, v);
    if (k == "panel.raw_low") return number(s_.raw_low, k, v);
    if (k == "panel.raw_high") return number(s_.raw_high, k, v);
    if (k == "panel.neighbour_permille") return number(s_.neighbour_permille, k, v);
    if (k == "checks.saturated_permille") return number(s_.saturated_permille, k, v);
    if (k == "checks.quiet_permille") return number(s_.quiet_permille, k, v);
    if (k != "panel.counts_rise") return false;
    return flag(s_.counts_rise, k, v);
  }

  bool set_contacts(const std::string& k, const toml::node& v) {
    if (k == "contacts.touch_on_permille") return number(s_.touch_on_permille, k, v);
    if (k == "contacts.touch_off_permille") return number(s_.touch_off_permille, k, v);
    if (k == "contacts.debounce_down") return number(s_.debounce_down, k, v);
    if (k == "contacts.debounce_up") return number(s_.debounce_up, k, v);
    if (k == "contacts.saddle_permille") return number(s_.saddle_permille, k, v);
    if (k == "contacts.palm_mm2") return number(s_.palm_mm2, k, v);
    if (k == "contacts.match_um") return number(s_.match_um, k, v);
    if (k == "tracking.track_ms") return number(s_.track_ms, k, v);
    if (k == "tracking.slew_permille_s") return number(s_.slew_permille_s, k, v);
    return false;
  }

  bool set_surface(const std::string& k, const toml::node& v) {
    if (k == "surface.surface_permille") return number(s_.surface_permille, k, v);
    if (k == "surface.smooth_permille") return number(s_.smooth_permille, k, v);
    if (k == "surface.unsteady_permille") return number(s_.unsteady_permille, k, v);
    if (k == "surface.surface_ms") return number(s_.surface_ms, k, v);
    if (k == "surface.held_ms") return number(s_.held_ms, k, v);
    if (k == "surface.held_jitter_q8") return number(s_.held_jitter_q8, k, v);
    return false;
  }

  bool set_start(const std::string& k, const toml::node& v) {
    if (k == "start.policy") return policy(k, v);
    if (k == "start.settle_ms") return number(s_.settle_ms, k, v);
    if (k == "start.sample_frames") return number(s_.sample_frames, k, v);
    if (k == "start.retry_ms") return number(s_.retry_ms, k, v);
    if (k == "start.wait_ms") return number(s_.wait_ms, k, v);
    if (k == "start.clear_ms") return number(s_.clear_ms, k, v);
    return false;
  }

  bool share(double& field, const std::string& place, const toml::node& node, double low,
             double high) {
    const auto value = node.is_number() ? node.value<double>() : std::nullopt;
    if (!value || !(*value >= low && *value <= high))
      fail(node, fmt::format("a number from {} to {} for \"{}\"", low, high, place));
    field = *value;
    return true;
  }

  bool flag(bool& field, const std::string& place, const toml::node& node) {
    const auto value = node.value_exact<bool>();
    if (!value) fail(node, fmt::format("true or false for \"{}\"", place));
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
    if (k == "accept.bare_glass") return flag(a.bare_glass, k, v);
    if (k == "accept.sound_lines") return flag(a.sound_lines, k, v);
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

}  // namespace

Settings read_settings(const std::string& path) { return read_settings_file(path).settings; }

SettingsFile read_settings_file(const std::string& path) {
  SettingsFile file;
  const Settings& settings = file.settings;
  try {
    Reader(path, file).read(toml::parse_file(path));
  } catch (const toml::parse_error& e) {
    throw CaptureError(path, fmt::format("line {}", e.source().begin.line),
                       fmt::format("a TOML settings file ({})", e.description()));
  }
  Settings checked = settings;
  if (checked.shape == Shape{}) checked.shape = {2, 2};  // the dump will give the real one
  const SettingsField wrong = validate(checked);
  if (wrong != SettingsField::none)
    throw CaptureError(path, "settings", text::wrong_setting(wrong, checked));
  return file;
}

}  // namespace bareglass::host
