#include <fmt/format.h>

#include <sstream>

#include "bareglass/compare/comparison.hpp"
#include "bareglass/plain/harmless.hpp"
#include "cli.hpp"
#include "commands.hpp"
#include "files_apart.hpp"
#include "finger_options.hpp"
#include "picture_file.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

po::options_description own_compare_options() {
  po::options_description o("What to compare");
  o.add_options()("json", po::bool_switch(), "print one JSON document instead of text")(
      "picture", po::value<std::string>()->value_name("FILE"),
      "also draw the difference; FILE ends in .svg or .png")(
      "settings", po::value<std::string>()->value_name("FILE"),
      "settings of the unit's firmware, with the limits in a section [accept] (TOML)")(
      "other-unit", po::bool_switch(),
      "compare although the dumps name different units (a warning is printed)");
  return o;
}

std::string compare_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass compare BEFORE AFTER [AFTER ...] [options]\n\n"
         "Says what changed between a dump before and dumps after a repair, finding by finding "
         "and\n"
         "as a map, and whether the unit can be accepted by the limits of the settings file. "
         "Dumps\n"
         "of different panels are refused, and one dump given twice: it shows one start-up.\n"
         "Exit code 0: accepted, 1: rejected.\n\n"
         "[accept] in the settings file: max_noise_percent, max_node_noise_percent,\n"
         "max_departure_percent, max_non_uniformity_percent,\n"
         "max_whole_shift_percent, bare_glass, sound_lines, start_ups.\n\n"
      << options;
  return out.str();
}

host::StateOfUnit read_one(const std::string& path, const po::variables_map& given,
                           const host::ReplayOptions& options) {
  const auto reader = host::open_capture(path, open_options(given));
  say_reading(*reader);
  Progress progress(*reader);
  host::ReplayOptions replaying = options;
  replaying.progress = [&](std::uint64_t frames) { progress.update(frames); };
  return host::read_state(*reader, path, replaying);
}

void expect_same_panel(const host::StateOfUnit& before, const host::StateOfUnit& after,
                       bool other_unit) {
  const host::PanelMismatch m = host::mismatch(before, after);
  if (!m.panel.empty())
    throw host::CaptureError(after.file, "", "expected the same panel; " + m.panel);
  if (!m.unit.empty() && !other_unit)
    throw host::CaptureError(after.file, "",
                             "expected the same unit; " + m.unit + " (--other-unit allows it)");
}

}  // namespace

int run_compare(int argc, const char* const* argv) {
  po::options_description options;
  options.add(own_compare_options()).add(finger_options()).add(reading_options());
  const po::variables_map given = parse_with_rest(argc, argv, options, {"BEFORE"}, "AFTER");
  if (given.count("help")) {
    print(compare_help(options));
    return kDone;
  }
  const std::string before_path = required(given, "BEFORE");
  if (!given.count("AFTER")) throw CommandLineError("expected AFTER on the command line");
  const auto after_paths = given["AFTER"].as<std::vector<std::string>>();
  const std::string picture = picture_path(given);
  expect_each_once(files_of(given, {"BEFORE", "AFTER"}));
  expect_apart(files_of(given, {"BEFORE", "AFTER", "settings", "panel"}),
               files_of(given, {"picture"}));
  host::AcceptLimits limits;
  const host::ReplayOptions replaying = replay_options(given, &limits);
  const host::StateOfUnit before = read_one(before_path, given, replaying);
  std::vector<host::StateOfUnit> after;
  for (const std::string& path : after_paths) {
    after.push_back(read_one(path, given, replaying));
    expect_same_panel(before, after.back(), given["other-unit"].as<bool>());
  }
  const host::Comparison comparison = host::compare(before, after, limits);
  if (!picture.empty()) {
    if (comparison.map.counts.empty())
      throw host::CaptureError(before_path, "",
                               "expected frames that can be drawn; " + comparison.remarks.back());
    write_picture(picture, comparison.map);
  }
  if (given["json"].as<bool>()) {
    print(host::comparison_json(comparison));
  } else {
    print(host::comparison_text(comparison, colour_wanted()));
    if (!picture.empty()) print(fmt::format("\nPicture: {}\n", plain::harmless(picture)));
  }
  return comparison.accepted ? kDone : kRejected;
}

}  // namespace bareglass::tools
