#include "simulate_command.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <sstream>

#include "bareglass/capture/writer.hpp"
#include "bareglass/panel/player.hpp"
#include "cli.hpp"
#include "files_apart.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

/// A line on standard error that says how far the simulation has come; only on a terminal.
class SimulatedTime {
 public:
  SimulatedTime() : enabled_(isatty(STDERR_FILENO) != 0) {}
  ~SimulatedTime() {
    if (shown_) std::fputs("\r\x1b[K", stderr);
  }
  SimulatedTime(const SimulatedTime&) = delete;
  SimulatedTime& operator=(const SimulatedTime&) = delete;

  void update(double done_s, double all_s) {
    if (!enabled_) return;
    const auto now = std::chrono::steady_clock::now();
    if (now < next_) return;
    next_ = now + std::chrono::milliseconds(200);
    shown_ = true;
    std::fputs(fmt::format("\r{:.1f} of {:.1f} s simulated\x1b[K", done_s, all_s).c_str(), stderr);
    std::fflush(stderr);
  }

 private:
  bool enabled_;
  bool shown_ = false;
  std::chrono::steady_clock::time_point next_{};
};

std::string simulate_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass simulate SCENARIO -o DUMP [options]\n\n"
         "Plays a scenario (TOML: what lies on the glass when, what breaks, what the device does) "
         "on\n"
         "the simulated panel and writes what the unit would have sent: raw frames, its journal, "
         "its\n"
         "supply, and the truth as notes. The same scenario and seed give the same dump.\n\n"
      << options;
  return out.str();
}

/// What the scenario reads beside itself.
std::vector<NamedFile> panel_files(const panel::Scenario& scenario) {
  if (scenario.panel_path.empty()) return {};
  std::filesystem::path kernels = scenario.panel_path;
  kernels.replace_extension(".kernels");
  return {{"the scenario's panel", scenario.panel_path}, {"the panel's kernels", kernels.string()}};
}

host::CaptureFormat format_for(const po::variables_map& given) {
  if (!given.count("to")) return host::CaptureFormat::frames;
  const std::string name = given["to"].as<std::string>();
  const std::optional<host::CaptureFormat> format = host::format_of_name(name);
  if (!format)
    throw CommandLineError(
        fmt::format("--to expects one of {}, not '{}'", host::format_names(), name));
  return *format;
}

}  // namespace

int run_simulate(int argc, const char* const* argv) {
  po::options_description options("What to write");
  options.add_options()("output,o", po::value<std::string>()->value_name("DUMP"),
                        "file to write; - for standard output")(
      "to", po::value<std::string>()->value_name("NAME"),
      fmt::format("format of the dump: {} (frames if not given)", host::format_names()).c_str())(
      "seed", po::value<std::uint32_t>()->value_name("N"), "another seed than the scenario's");
  const po::variables_map given = parse(argc, argv, options, {"SCENARIO"});
  if (given.count("help")) {
    print(simulate_help(options));
    return kDone;
  }
  const std::string path = required(given, "SCENARIO");
  if (!given.count("output")) throw CommandLineError("expected -o DUMP on the command line");
  const host::CaptureFormat format = format_for(given);
  const std::vector<NamedFile> output = files_of(given, {"output"});
  expect_apart(files_of(given, {"SCENARIO"}), output);
  panel::Scenario scenario = panel::load_scenario(path);
  expect_apart(panel_files(scenario), output);
  if (given.count("seed")) scenario.setup.seed = given["seed"].as<std::uint32_t>();
  const auto writer = host::create_capture(given["output"].as<std::string>(), format);
  {
    SimulatedTime time;
    panel::play(
        scenario, [&](const host::Record& record) { writer->write(record); },
        [&](double done_s, double all_s) { time.update(done_s, all_s); });
  }
  writer->finish();
  return kDone;
}

}  // namespace bareglass::tools
