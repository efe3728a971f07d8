#include "finger_options.hpp"

#include <fmt/format.h>

#include "bareglass/field/panel_spec.hpp"
#include "bareglass/panel_model/glass_model.hpp"
#include "bareglass/settings/settings_file.hpp"
#include "cli.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

po::options_description finger_options() {
  po::options_description o("What a finger is, where the dump does not state it");
  o.add_options()("finger-counts", po::value<int>()->value_name("N"),
                  "signal of a finger on this panel, counts (16 to 20000)")(
      "panel", po::value<std::string>()->value_name("FILE"),
      "the panel (TOML, as in fixtures/panels): its finger, as a share of the bare reading");
  return o;
}

host::ReplayOptions replay_options(const po::variables_map& given, host::AcceptLimits* limits) {
  host::ReplayOptions out;
  if (given.count("settings")) {
    const host::SettingsFile file = host::read_settings_file(given["settings"].as<std::string>());
    out.settings = file.settings;
    out.settings_name_finger = file.names_finger;
    if (limits != nullptr) *limits = file.accept;
  }
  if (given.count("finger-counts")) {
    out.finger_counts = given["finger-counts"].as<int>();
    if (*out.finger_counts < 16 || *out.finger_counts > 20000)
      throw CommandLineError(fmt::format(
          "--finger-counts expects a number from 16 to 20000, not {}", *out.finger_counts));
  }
  if (given.count("panel")) {
    const std::string path = given["panel"].as<std::string>();
    out.finger_share = panel::finger_share(field::load_panel(path), path);
  }
  return out;
}

}  // namespace bareglass::tools
