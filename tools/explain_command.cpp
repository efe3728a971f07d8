#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <ctime>
#include <filesystem>
#include <sstream>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/advise/next_steps.hpp"
#include "bareglass/compare/comparison.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/present/report.hpp"
#include "bareglass/replay/replay.hpp"
#include "bareglass/settings/settings_file.hpp"
#include "bareglass/words/text.hpp"
#include "cli.hpp"
#include "commands.hpp"
#include "files_apart.hpp"
#include "finger_options.hpp"
#include "picture_file.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

po::options_description own_explain_options() {
  po::options_description o("What to tell");
  o.add_options()("json", po::bool_switch(), "print one JSON document instead of text")(
      "picture", po::value<std::string>()->value_name("FILE"),
      "also draw the decisive moment; FILE ends in .svg or .png")(
      "maps", po::value<std::string>()->value_name("FILE"),
      "also draw what was measured, what the panel's model predicts of the things found, and what "
      "is left in units of noise, side by side; .svg or .png")(
      "report", po::value<std::string>()->value_name("FILE"),
      "also write the report for the work order, one HTML file to print or attach")(
      "after", po::value<std::string>()->value_name("FILE"),
      "a dump of the same unit after the work: the report shows before and after")(
      "ward-page", po::value<std::string>()->value_name("FILE"),
      "also write the plain page for the people on the ward, one HTML file")(
      "all-events", po::bool_switch(), "list every event, not only the telling ones")(
      "settings", po::value<std::string>()->value_name("FILE"),
      "settings of the unit's firmware (TOML)")(
      "steps", po::value<std::string>()->value_name("FILE"),
      "another table of next steps than the one that ships (TOML)")(
      "policy", po::value<std::string>()->value_name("NAME"),
      "what the unit does about an object at power-up: lock, wait, adopt or service")(
      "power-up", po::value<std::string>()->value_name("TIME"),
      "the panel was powered at this time of the frames' clock, e.g. 0s, if the dump does not say; "
      "up to two seconds before the first frame, the start-up is judged");
  return o;
}

StartPolicy policy_named(const std::string& name) {
  for (const StartPolicy p :
       {StartPolicy::lock, StartPolicy::wait, StartPolicy::adopt, StartPolicy::service})
    if (name == host::text::policy(p)) return p;
  throw CommandLineError(
      fmt::format("--policy expects lock, wait, adopt or service, not '{}'", name));
}

host::ReplayOptions replaying_of(const po::variables_map& given) {
  host::ReplayOptions o = replay_options(given);
  if (given.count("policy")) o.policy = policy_named(given["policy"].as<std::string>());
  if (given.count("power-up"))
    o.power_up_us = parse_time_us(given["power-up"].as<std::string>(), "--power-up");
  return o;
}

// "2026-03-01 14:05", local time; empty if the clock can't say.
std::string date_text(std::time_t when) {
  std::tm local{};
  char text[32];
  if (localtime_r(&when, &local) == nullptr) return {};
  return std::string(text, std::strftime(text, sizeof text, "%Y-%m-%d %H:%M", &local));
}

// When a dump that is a file was stored; empty for devices and standard input.
std::string stored_on(const std::string& path) {
  struct stat about {};
  if (stat(path.c_str(), &about) != 0 || !S_ISREG(about.st_mode)) return {};
  return date_text(about.st_mtime);
}

host::ReportExtras extras_for(const std::string& path) {
  host::ReportExtras extras;
  extras.dump = path == "-" ? "standard input" : std::filesystem::path(path).filename().string();
  extras.dump_date = stored_on(path);
  extras.written_on = date_text(std::time(nullptr));
  extras.program = "bareglass " BAREGLASS_VERSION;
  return extras;
}

host::StateOfUnit state_of(const std::string& path, const po::variables_map& given,
                           const host::ReplayOptions& replaying) {
  const auto reader = host::open_capture(path, open_options(given));
  say_reading(*reader);
  return host::read_state(*reader, path, replaying);
}

// Before and after the work, held against the limits of the settings file.
std::optional<host::BeforeAfter> before_after(const po::variables_map& given,
                                              const std::string& dump,
                                              host::ReplayOptions replaying) {
  if (!given.count("after")) return {};
  replaying.progress = nullptr;
  host::AcceptLimits limits;
  if (given.count("settings"))
    limits = host::read_settings_file(given["settings"].as<std::string>()).accept;
  const host::StateOfUnit before = state_of(dump, given, replaying);
  const host::StateOfUnit after = state_of(given["after"].as<std::string>(), given, replaying);
  const host::PanelMismatch mismatch = host::mismatch(before, after);
  if (!mismatch.panel.empty() || !mismatch.unit.empty())
    throw host::CaptureError(after.file, "",
                             "expected the same unit; " + mismatch.panel + mismatch.unit);
  const auto first = host::check_acceptance({before}, limits);
  const auto then = host::check_acceptance({after}, limits, &before);
  host::BeforeAfter out;
  out.dump = std::filesystem::path(after.file).filename().string();
  out.accepted = std::all_of(then.begin(), then.end(), [](const auto& c) { return c.passed; });
  out.verdict = out.accepted ? "After the work, every limit is kept."
                             : "After the work, not every limit is kept.";
  for (const host::AcceptCheck& check : then) {
    const auto same = std::find_if(first.begin(), first.end(),
                                   [&](const auto& c) { return c.name == check.name; });
    out.lines.push_back({check.name, same == first.end() ? "not measured" : same->value,
                         check.value, check.limit, check.passed});
  }
  return out;
}

// Checked before the dump is read.
void check_after(const po::variables_map& given, const std::string& dump) {
  if (!given.count("after")) return;
  if (!given.count("report")) throw CommandLineError("--after expects --report FILE beside it");
  if (dump == "-") throw CommandLineError("--after expects DUMP to be a file, not -");
}

// The paths of the pages that were written.
std::vector<std::string> write_pages(const po::variables_map& given, const std::string& dump,
                                     const host::ReplayOptions& replaying,
                                     const host::Account& account,
                                     const host::Diagnosis& diagnosis) {
  std::vector<std::string> written;
  host::ReportExtras extras = extras_for(dump);
  extras.before_after = before_after(given, dump, replaying);
  const auto page = [&](const char* option, auto make) {
    if (!given.count(option)) return;
    written.push_back(given[option].as<std::string>());
    write_file(written.back(), make(account, diagnosis, extras));
  };
  page("report", host::report_html);
  page("ward-page", host::ward_page_html);
  return written;
}

std::string explain_help(const po::options_description& options) {
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
  options.add(own_explain_options()).add(finger_options()).add(reading_options());
  const po::variables_map given = parse(argc, argv, options, {"DUMP"});
  if (given.count("help")) {
    print(explain_help(options));
    return kDone;
  }
  const std::string path = required(given, "DUMP");
  const std::string picture = picture_path(given);
  const std::string maps = picture_path(given, "maps");
  check_after(given, path);
  expect_no_standard_output(files_of(given, {"report", "ward-page"}));
  expect_each_once(files_of(given, {"DUMP", "after"}));
  expect_apart(files_of(given, {"DUMP", "after", "settings", "panel", "steps"}),
               files_of(given, {"picture", "maps", "report", "ward-page"}));
  host::ReplayOptions replaying = replaying_of(given);
  const host::StepTable steps = given.count("steps")
                                    ? host::read_steps(given["steps"].as<std::string>())
                                    : host::shipped_steps();
  const auto reader = host::open_capture(path, open_options(given));
  say_reading(*reader);
  host::Account account;
  {
    Progress progress(*reader);
    replaying.progress = [&](std::uint64_t frames) { progress.update(frames); };
    account = host::replay(*reader, path, replaying);
  }
  const host::Diagnosis diagnosis = host::diagnose(account, steps);
  if (!picture.empty()) write_picture(picture, host::explanation_picture(account, diagnosis));
  const std::vector<host::HeatMap> scene = host::scene_pictures(account, diagnosis);
  if (!maps.empty() && !scene.empty()) write_pictures(maps, scene);
  const std::vector<std::string> pages = write_pages(given, path, replaying, account, diagnosis);
  if (given["json"].as<bool>()) {
    print(host::explanation_json(path, account, diagnosis));
  } else {
    print(host::explanation_text(path, account, diagnosis,
                                 {colour_wanted(), given["all-events"].as<bool>()}));
    if (!picture.empty()) print(fmt::format("\nPicture: {}\n", plain::harmless(picture)));
    if (!maps.empty())
      print(scene.empty() ? std::string("\nMaps: none, nothing was reconstructed\n")
                          : fmt::format("\nMaps: {}\n", plain::harmless(maps)));
    for (const std::string& page : pages) print(fmt::format("\nPage: {}\n", plain::harmless(page)));
  }
  return kDone;
}

}  // namespace bareglass::tools
