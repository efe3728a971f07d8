#include "view_command.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <memory>
#include <optional>
#include <sstream>

#include "bareglass/view/replay_page.hpp"
#include "bareglass/view/shell.hpp"
#include "cli.hpp"
#include "files_apart.hpp"
#include "finger_options.hpp"
#include "record_options.hpp"
#include "window_options.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

/// What was recorded, and how it ended.
void tell_recording(const host::Recorder& recorder, const std::string& file) {
  const host::Recorder::Status status = recorder.status();
  print(fmt::format("Saved: {}\n  {} bytes; `bareglass info` says what they hold\n", file,
                    status.bytes));
  if (status.end == host::Recorder::End::failed) warn(file + ": " + status.problem);
}

std::string recording_trouble(const host::Recorder& recorder) {
  const host::Recorder::Status status = recorder.status();
  if (status.end == host::Recorder::End::failed) return "Recording stopped: " + status.problem;
  if (status.end != host::Recorder::End::none)
    return "The source has ended; the recording is whole.";
  return status.connected ? "" : "The port went away. Waiting for it to come back.";
}

po::options_description own_view_options() {
  po::options_description options("What to show");
  options.add_options()("at", po::value<std::string>()->value_name("TIME"),
                        "moment to show, e.g. 0.34s, as `bareglass explain` counts it; the "
                        "decision if not given")("layer",
                                                 po::value<std::string>()->value_name("NAME"),
                                                 "raw, baseline, difference, noise or findings")(
      "side", po::value<std::string>()->value_name("NAME"),
      "what stands beside the glass: why, next or evidence")(
      "touch-test",
      "a touch test on the frames of the dump, guided while they arrive; --plan names its plan")(
      "record", po::value<std::string>()->value_name("FILE"),
      "keep what DUMP sends in this file, as `bareglass record` does, and show it while it comes; "
      "DUMP is then a serial port, -, a FIFO, tcp:HOST:PORT or a touch device")(
      "settings", po::value<std::string>()->value_name("FILE"),
      "settings of the unit's firmware (TOML)")(
      "power-up", po::value<std::string>()->value_name("TIME"),
      "the panel was powered at this time of the frames' clock, e.g. 0s, if the dump does not say; "
      "up to two seconds before the first frame, the start-up is judged");
  return options;
}

std::string view_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass view [DUMP] [options]\n\n"
         "Opens a dump in a window at the moment that decided about input: the glass to scale, "
         "what was\n"
         "found on it, a timeline, why input is off as a chain of sentences, the history of every "
         "node.\n"
         "DUMP is a file, which may still be growing, or - for standard input. Without it the "
         "window\n"
         "offers the dumps opened lately; a file can also be dropped on it. F1 lists the keys.\n\n"
      << options;
  return out.str();
}

view::ReplayLayer replay_layer(const std::string& word) {
  return static_cast<view::ReplayLayer>(
      choice("--layer", word, {"raw", "baseline", "difference", "noise", "findings"}));
}

view::ReplayPage::Side parse_side(const std::string& word) {
  return static_cast<view::ReplayPage::Side>(choice("--side", word, {"why", "next", "evidence"}));
}

view::OpenRequest request_of(const po::variables_map& given) {
  view::OpenRequest request;
  request.path = given["DUMP"].as<std::string>();
  request.reading = open_options(given);
  request.replaying = replay_options(given);
  if (given.count("power-up"))
    request.replaying.power_up_us =
        parse_time_us(given["power-up"].as<std::string>(), "--power-up");
  const std::string plan = plan_file(given);
  if (given.count("touch-test") || !plan.empty()) {
    request.touch.emplace();
    request.touch->plan_file = plan;
    if (!plan.empty()) request.touch->plan = host::read_touch_plan(plan);
  }
  return request;
}

void without_screen(view::ReplayPage& page, view::Shell& shell, const po::variables_map& given) {
  view::ReplayModel& model = *page.model();
  if (given.count("frame-times")) {
    model.to_start();
    model.play(true);
  }
  const Shape shape = model.account().settings.shape;
  draw_hidden(shell, page, given,
              fmt::format("panel of {} x {} nodes playing", shape.rows, shape.cols));
}

}  // namespace

int run_view(int argc, const char* const* argv) {
  po::options_description options;
  options.add(own_view_options()).add(live_options()).add(finger_options());
  options.add(window_options()).add(reading_options());
  const po::variables_map given = parse(argc, argv, options, {"DUMP"});
  if (given.count("help")) {
    print(view_help(options));
    return kDone;
  }
  expect_apart(files_of(given, {"DUMP", "settings", "panel", "plan"}),
               files_of(given, {"screenshot", "record"}));
  const bool hidden = window_of(given, {}).hidden;
  if (hidden && !given.count("DUMP"))
    throw CommandLineError("--screenshot and --frame-times expect a DUMP");
  const std::string remembered = hidden ? "" : view::view_memory_path();
  view::ViewMemory memory = view::load_view_memory(remembered);
  view::ShellOptions as_before;
  as_before.width = memory.width;
  as_before.height = memory.height;
  const view::ShellOptions window = window_of(given, as_before);
  std::optional<view::ReplayLayer> layer;
  if (given.count("layer")) layer = replay_layer(given["layer"].as<std::string>());
  std::optional<std::uint64_t> at_us;
  if (given.count("at")) at_us = parse_time_us(given["at"].as<std::string>(), "--at");
  std::optional<view::OpenRequest> request;
  if (given.count("DUMP")) request = request_of(given);
  std::unique_ptr<host::Recorder> recorder;
  if (given.count("record")) {
    if (hidden || !request)
      throw CommandLineError("--record expects a source and a window, not a screenshot");
    const std::string file = given["record"].as<std::string>();
    recorder = std::make_unique<host::Recorder>(
        host::open_live(request->path, live_options_of(given)), file, host::RecordLimits{});
    request->path = file;
    request->reading.format = host::CaptureFormat::frames;
    request->live = true;
    request->source_trouble = [&recorder] { return recording_trouble(*recorder); };
  }
  view::ReplayPage page(request, memory);
  if (given.count("side")) page.show(parse_side(given["side"].as<std::string>()));
  if (page.model() != nullptr && layer) page.model()->show(*layer);
  if (page.model() != nullptr && (window.hidden || at_us)) page.model()->finish_opening();
  const bool failed =
      page.model() != nullptr && page.model()->phase() == view::ReplayModel::Phase::failed;
  if (failed && window.hidden) {
    warn(page.model()->problem());
    return kUnreadableInput;
  }
  if (at_us && page.model() != nullptr && !failed)
    page.model()->seek(page.model()->at_of_seconds(static_cast<double>(*at_us) / 1e6));
  view::Shell shell(window);
  if (window.hidden) {
    without_screen(page, shell, given);
    return kDone;
  }
  shell.run(page);
  if (recorder) {
    recorder->stop();
    tell_recording(*recorder, given["record"].as<std::string>());
  }
  // The bench may have been open meanwhile: what it remembers stays.
  memory.bench_layer = view::load_view_memory(remembered).bench_layer;
  view::save_view_memory(remembered, memory);
  return kDone;
}

}  // namespace bareglass::tools
