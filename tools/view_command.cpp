#include "view_command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <ctime>
#include <optional>
#include <sstream>

#include "bareglass/host/settings_file.hpp"
#include "bareglass/view/replay_page.hpp"
#include "bareglass/view/shell.hpp"
#include "cli.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

po::options_description own_options() {
  po::options_description options("What to show");
  options.add_options()("at", po::value<std::string>()->value_name("TIME"),
                        "moment to show, e.g. 0.34s, as `bareglass explain` counts it; the "
                        "decision if not given")("layer",
                                                 po::value<std::string>()->value_name("NAME"),
                                                 "raw, baseline, difference, noise or findings")(
      "side", po::value<std::string>()->value_name("NAME"),
      "what stands beside the glass: why, next or evidence")(
      "size", po::value<std::string>()->value_name("WxH"),
      "size of the window, 640x480 to 4096x4096")(
      "scale", po::value<double>()->value_name("S"),
      "pixels per point, 0.5 to 4; what the display asks for if not given")(
      "screenshot", po::value<std::string>()->value_name("FILE"),
      "write a PNG of the window and end; needs no screen")(
      "frame-times", po::value<int>()->value_name("N"),
      "play the dump for N frames as fast as they go, print how long they took, and end; needs no "
      "screen")("settings", po::value<std::string>()->value_name("FILE"),
                "settings of the unit's firmware (TOML)")(
      "power-up", po::value<std::string>()->value_name("TIME"),
      "the panel was powered at this time of the frames' clock, e.g. 0s, if the dump does not say")(
      "finger-counts", po::value<int>()->value_name("N"),
      "signal of a finger on this panel, counts (16 to 20000)");
  return options;
}

std::string help(const po::options_description& options) {
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

void set_size(view::ShellOptions& window, const std::string& text) {
  char between = 0;
  std::istringstream in(text);
  in >> window.width >> between >> window.height;
  const bool good = !in.fail() && between == 'x' &&
                    in.peek() == std::istringstream::traits_type::eof() && window.width >= 640 &&
                    window.width <= 4096 && window.height >= 480 && window.height <= 4096;
  if (!good)
    throw CommandLineError(
        fmt::format("--size expects WIDTHxHEIGHT from 640x480 to 4096x4096, not '{}'", text));
}

template <typename T>
T within(const po::variables_map& given, const char* option, T low, T high) {
  const T value = given[option].as<T>();
  if (!(value >= low && value <= high))
    throw CommandLineError(fmt::format("--{} expects {} to {}, not {}", option, low, high, value));
  return value;
}

view::ReplayLayer parse_layer(const std::string& text) {
  const auto layer = view::replay_layer_of(text);
  if (!layer)
    throw CommandLineError(fmt::format(
        "--layer expects raw, baseline, difference, noise or findings, not '{}'", text));
  return *layer;
}

view::ReplayPage::Side parse_side(const std::string& text) {
  if (text == "why") return view::ReplayPage::Side::why;
  if (text == "next") return view::ReplayPage::Side::next;
  if (text == "evidence") return view::ReplayPage::Side::evidence;
  throw CommandLineError(fmt::format("--side expects why, next or evidence, not '{}'", text));
}

view::OpenRequest request_of(const po::variables_map& given) {
  view::OpenRequest request;
  request.path = given["DUMP"].as<std::string>();
  request.reading = open_options(given);
  if (given.count("settings"))
    request.replaying.settings = host::read_settings(given["settings"].as<std::string>());
  if (given.count("power-up"))
    request.replaying.power_up_us =
        parse_time_us(given["power-up"].as<std::string>(), "--power-up");
  if (given.count("finger-counts"))
    request.replaying.finger_counts = within(given, "finger-counts", 16, 20000);
  return request;
}

std::string frame_times_text(std::vector<double> ms, double processor_ms,
                             const view::Picture& picture, Shape shape) {
  std::sort(ms.begin(), ms.end());
  const auto at = [&](double share) {
    return ms[static_cast<std::size_t>(share * static_cast<double>(ms.size() - 1))];
  };
  return fmt::format(
      "{} frames of {} x {} pixels, panel of {} x {} nodes playing, software renderer\n"
      "half of the frames took at most {:.1f} ms, 90 % {:.1f} ms, 99 % {:.1f} ms, all {:.1f} ms\n"
      "processor time of a frame: {:.1f} ms on average\n",
      ms.size(), picture.width, picture.height, shape.rows, shape.cols, at(0.5), at(0.9), at(0.99),
      ms.back(), processor_ms / static_cast<double>(ms.size()));
}

void without_screen(view::ReplayPage& page, view::Shell& shell, const po::variables_map& given) {
  view::ReplayModel& model = *page.model();
  if (given.count("frame-times")) {
    model.to_start();
    model.play(true);
    const std::clock_t before = std::clock();
    const std::vector<double> ms =
        shell.frame_times_ms(page, within(given, "frame-times", 2, 100'000), 1.0 / 60.0);
    const double processor_ms =
        1000.0 * static_cast<double>(std::clock() - before) / CLOCKS_PER_SEC;
    print(frame_times_text(ms, processor_ms, shell.picture(), model.account().settings.shape));
  }
  if (!given.count("screenshot")) return;
  // Sizes of widgets are known from the second frame on, places scrolled to from the third.
  for (int n = 0; n < 4; ++n) shell.frame(page, 0.0);
  view::write_png(given["screenshot"].as<std::string>(), shell.picture());
}

}  // namespace

int run_view(int argc, const char* const* argv) {
  po::options_description options;
  options.add(own_options()).add(reading_options());
  const po::variables_map given = parse(argc, argv, options, {"DUMP"});
  if (given.count("help")) {
    print(help(options));
    return kDone;
  }
  view::ShellOptions window;
  window.hidden = given.count("screenshot") > 0 || given.count("frame-times") > 0;
  if (window.hidden && !given.count("DUMP"))
    throw CommandLineError("--screenshot and --frame-times expect a DUMP");
  const std::string remembered = window.hidden ? "" : view::view_memory_path();
  view::ViewMemory memory = view::load_view_memory(remembered);
  window.width = memory.width;
  window.height = memory.height;
  if (given.count("size")) set_size(window, given["size"].as<std::string>());
  if (given.count("scale"))
    window.scale = static_cast<float>(within(given, "scale", 0.5, 4.0));
  else if (window.hidden)
    window.scale = 1.0F;
  std::optional<view::ReplayLayer> layer;
  if (given.count("layer")) layer = parse_layer(given["layer"].as<std::string>());
  std::optional<std::uint64_t> at_us;
  if (given.count("at")) at_us = parse_time_us(given["at"].as<std::string>(), "--at");
  std::optional<view::OpenRequest> request;
  if (given.count("DUMP")) request = request_of(given);
  view::ReplayPage page(request, memory);
  if (given.count("side")) page.show(parse_side(given["side"].as<std::string>()));
  if (page.model() != nullptr && layer) page.model()->show(*layer);
  if (page.model() != nullptr && (window.hidden || at_us)) page.model()->finish_opening();
  const bool failed =
      page.model() != nullptr && page.model()->phase() == view::ReplayModel::Phase::failed;
  if (failed && window.hidden) {
    std::fprintf(stderr, "bareglass: %s\n", page.model()->problem().c_str());
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
  view::save_view_memory(remembered, memory);
  return kDone;
}

}  // namespace bareglass::tools
