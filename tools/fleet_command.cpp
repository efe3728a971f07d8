#include <fmt/format.h>

#include <algorithm>
#include <sstream>
#include <thread>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/fleet/fleet.hpp"
#include "bareglass/replay/replay.hpp"
#include "cli.hpp"
#include "commands.hpp"
#include "files_apart.hpp"
#include "finger_options.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

std::string fleet_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass fleet DIR [options]\n\n"
         "Reads every dump in DIR and DIR/units.csv (unit, ward, date, taped; described in\n"
         "lib/host/fleet/UNITS.md) and says which cause, how often, in which ward, and "
         "whether\n"
         "taped units fail more often at power-up: Fisher's exact test with the odds ratio and "
         "its\n"
         "interval. Of the units that failed at power-up it counts apart what lay on the glass,\n"
         "lines, temperature, noise, supply, and those that were off for another reason. Dumps "
         "are\n"
         "read on all cores at once.\n"
         "Exit code 3 if a dump could not be read; the others are still told.\n\n"
      << options;
  return out.str();
}

}  // namespace

int run_fleet(int argc, const char* const* argv) {
  po::options_description own("What to tell");
  own.add_options()("json", po::bool_switch(), "print one JSON document instead of text")(
      "report", po::value<std::string>()->value_name("FILE"), "also write a page (HTML)")(
      "settings", po::value<std::string>()->value_name("FILE"),
      "settings of the units' firmware (TOML)");
  po::options_description options;
  options.add(own).add(finger_options()).add(reading_options());
  const po::variables_map given = parse(argc, argv, options, {"DIR"});
  if (given.count("help")) {
    print(fleet_help(options));
    return kDone;
  }
  const std::string folder = required(given, "DIR");
  expect_no_standard_output(files_of(given, {"report"}));
  std::vector<NamedFile> inputs = files_of(given, {"settings", "panel"});
  for (const std::string& path : host::fleet_inputs(folder))
    inputs.push_back({"part of DIR", path});
  expect_apart(inputs, files_of(given, {"report"}));
  const host::ReplayOptions replaying = replay_options(given);
  const host::OpenOptions opening = open_options(given);
  CountProgress progress;
  host::FleetOptions reading;
  reading.threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  reading.progress = [&](std::size_t done, std::size_t all) { progress.update(done, all); };
  const host::Fleet fleet = host::read_fleet(
      folder,
      [&](const std::string& path, const std::string& file) {
        const auto reader = host::open_capture(path, opening);
        const host::Account account = host::replay(*reader, path, replaying);
        const host::Diagnosis diagnosis = host::diagnose(account);
        host::FleetDump dump;
        dump.file = file;
        dump.unit = account.panel.unit_id;
        dump.start_up = host::start_up_of(account);
        dump.cause = diagnosis.causes.front().cause;
        dump.confidence = diagnosis.causes.front().confidence;
        const auto source = account.finger.source;
        dump.states_finger = source == host::FingerScale::Source::dump ||
                             source == host::FingerScale::Source::option;
        return dump;
      },
      reading);
  if (given.count("report")) write_file(given["report"].as<std::string>(), host::fleet_page(fleet));
  print(given["json"].as<bool>() ? host::fleet_json(fleet) : host::fleet_text(fleet));
  return fleet.unreadable.empty() ? kDone : kUnreadableInput;
}

}  // namespace bareglass::tools
