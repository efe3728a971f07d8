#include <fmt/format.h>

#include <optional>
#include <sstream>

#include "bareglass/replay/replay.hpp"
#include "bareglass/touch/touch_test.hpp"
#include "cli.hpp"
#include "commands.hpp"
#include "finger_options.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

std::string touchtest_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass touchtest DUMP [--plan PLAN] [options]\n\n"
         "Holds the contacts in a dump (its frames replayed through the core) against a plan of\n"
         "points and lines: accuracy, linearity, jitter, untouched nodes, contacts that broke "
         "off,\n"
         "contacts that nobody made. Without --plan: nine points, four edges, two diagonals.\n"
         "Exit code 0: passed, 1: a limit was not kept.\n\n"
      << options;
  return out.str();
}

}  // namespace

int run_touchtest(int argc, const char* const* argv) {
  po::options_description own("What to test");
  own.add_options()("plan", po::value<std::string>()->value_name("FILE"),
                    "plan of the test (TOML, lib/host/touch/PLAN.md)")(
      "settings", po::value<std::string>()->value_name("FILE"),
      "settings of the unit's firmware (TOML)")("json", po::bool_switch(),
                                                "print one JSON document instead of text");
  po::options_description options;
  options.add(own).add(finger_options()).add(reading_options());
  const po::variables_map given = parse(argc, argv, options, {"DUMP"});
  if (given.count("help")) {
    print(touchtest_help(options));
    return kDone;
  }
  host::TouchReport about;
  about.file = required(given, "DUMP");
  if (given.count("plan")) about.plan_file = given["plan"].as<std::string>();
  std::optional<host::TouchPlan> plan;
  if (!about.plan_file.empty()) plan = host::read_touch_plan(about.plan_file);
  host::ReplayOptions replaying = replay_options(given);
  const auto reader = host::open_capture(about.file, open_options(given));
  say_reading(*reader);
  std::optional<host::TouchTest> test;
  replaying.started = [&](const Settings& settings) {
    if (plan) host::expect_on_panel(*plan, settings, about.plan_file);
    test.emplace(plan ? *plan : host::default_touch_plan(settings), settings);
  };
  replaying.contacts = [&](View<const Contact> contacts, std::uint64_t t_us) {
    test->feed(contacts, t_us);
  };
  {
    Progress progress(*reader);
    replaying.progress = [&](std::uint64_t frames) { progress.update(frames); };
    const host::Account account = host::replay(*reader, about.file, replaying);
    about.unit = account.panel.unit_id;
    about.remarks = host::touch_remarks(account);
  }
  const host::TouchResult result = test->result();
  print(given["json"].as<bool>() ? host::touch_json(about, test->plan(), result)
                                 : host::touch_text(about, test->plan(), result));
  return result.passed ? kDone : kRejected;
}

}  // namespace bareglass::tools
