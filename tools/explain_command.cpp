#include <fmt/format.h>

#include <sstream>

#include "bareglass/host/diagnosis.hpp"
#include "bareglass/host/explanation.hpp"
#include "bareglass/host/replay.hpp"
#include "bareglass/host/settings_file.hpp"
#include "bareglass/host/text.hpp"
#include "cli.hpp"
#include "commands.hpp"
#include "picture_file.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

po::options_description own_options() {
  po::options_description o("What to tell");
  o.add_options()("json", po::bool_switch(), "print one JSON document instead of text")(
      "picture", po::value<std::string>()->value_name("FILE"),
      "also draw the decisive moment; FILE ends in .svg or .png")(
      "all-events", po::bool_switch(), "list every event, not only the telling ones")(
      "settings", po::value<std::string>()->value_name("FILE"),
      "settings of the unit's firmware (TOML)")(
      "policy", po::value<std::string>()->value_name("NAME"),
      "what the unit does about an object at power-up: lock, wait, adopt or service")(
      "power-up", po::value<std::string>()->value_name("TIME"),
      "the panel was powered at this time of the frames' clock, e.g. 0s, if the dump does not say")(
      "finger-counts", po::value<int>()->value_name("N"),
      "signal of a finger on this panel, counts (16 to 20000)");
  return o;
}

StartPolicy policy_named(const std::string& name) {
  for (const StartPolicy p :
       {StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt, StartPolicy::service})
    if (name == host::text::policy(p)) return p;
  throw CommandLineError(
      fmt::format("--policy expects lock, wait, adopt or service, not '{}'", name));
}

host::ReplayOptions replay_options(const po::variables_map& given) {
  host::ReplayOptions o;
  if (given.count("settings"))
    o.settings = host::read_settings(given["settings"].as<std::string>());
  if (given.count("policy")) o.policy = policy_named(given["policy"].as<std::string>());
  if (given.count("power-up"))
    o.power_up_us = parse_time_us(given["power-up"].as<std::string>(), "--power-up");
  if (given.count("finger-counts")) {
    o.finger_counts = given["finger-counts"].as<int>();
    if (*o.finger_counts < 16 || *o.finger_counts > 20000)
      throw CommandLineError(fmt::format(
          "--finger-counts expects a number from 16 to 20000, not {}", *o.finger_counts));
  }
  return o;
}

std::string help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass explain DUMP [options]\n\n"
         "Replays a dump of raw frames as the unit's own controller would have and says why input\n"
         "went off: what lay on the glass, where, how sure, and what to do next. DUMP is a file, "
         "a\n"
         "device, or - for standard input.\n\n"
      << options;
  return out.str();
}

}  // namespace

int run_explain(int argc, const char* const* argv) {
  po::options_description options;
  options.add(own_options()).add(reading_options());
  const po::variables_map given = parse(argc, argv, options, {"DUMP"});
  if (given.count("help")) {
    print(help(options));
    return kDone;
  }
  const std::string path = required(given, "DUMP");
  const std::string picture = picture_path(given);
  host::ReplayOptions replaying = replay_options(given);
  const auto reader = host::open_capture(path, open_options(given));
  host::Account account;
  {
    Progress progress(*reader);
    replaying.progress = [&](std::uint64_t frames) { progress.update(frames); };
    account = host::replay(*reader, path, replaying);
  }
  const host::Diagnosis diagnosis = host::diagnose(account);
  if (!picture.empty()) write_picture(picture, host::explanation_picture(account, diagnosis));
  if (given["json"].as<bool>()) {
    print(host::explanation_json(path, account, diagnosis));
  } else {
    print(host::explanation_text(path, account, diagnosis,
                                 {colour_wanted(), given["all-events"].as<bool>()}));
    if (!picture.empty()) print(fmt::format("\nPicture: {}\n", picture));
  }
  return kDone;
}

}  // namespace bareglass::tools
