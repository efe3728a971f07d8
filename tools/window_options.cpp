#include "window_options.hpp"

#include <algorithm>
#include <ctime>
#include <sstream>

#include "bareglass/touch/touch_plan.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

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

/// `processor_ms`: of all frames together; unlike the frames' own times it does not count what
/// other programs did meanwhile.
std::string frame_times_text(std::vector<double> ms, double processor_ms,
                             const view::Picture& picture, const std::string& about) {
  std::sort(ms.begin(), ms.end());
  const auto at = [&](double share) {
    return ms[static_cast<std::size_t>(share * static_cast<double>(ms.size() - 1))];
  };
  return fmt::format(
      "{} frames of {} x {} pixels, {}, software renderer\n"
      "half of the frames took at most {:.1f} ms, 90 % {:.1f} ms, 99 % {:.1f} ms, all {:.1f} ms\n"
      "processor time: {:.1f} ms a frame\n",
      ms.size(), picture.width, picture.height, about, at(0.5), at(0.9), at(0.99), ms.back(),
      processor_ms / static_cast<double>(ms.size()));
}

}  // namespace

po::options_description window_options() {
  po::options_description options("The window");
  options.add_options()("size", po::value<std::string>()->value_name("WxH"),
                        "size of the window, 640x480 to 4096x4096")(
      "scale", po::value<double>()->value_name("S"),
      "pixels per point, 0.5 to 4; what the display asks for if not given")(
      "screenshot", po::value<std::string>()->value_name("FILE"),
      "write a PNG of the window and end; needs no screen")(
      "frame-times", po::value<int>()->value_name("N"),
      "draw N frames as fast as they go, print how long they took, and end; needs no screen")(
      "plan", po::value<std::string>()->value_name("FILE"),
      "plan for touch tests (TOML, lib/host/touch/PLAN.md)");
  return options;
}

view::ShellOptions window_of(const po::variables_map& given, view::ShellOptions window) {
  window.hidden = given.count("screenshot") > 0 || given.count("frame-times") > 0;
  if (given.count("size")) set_size(window, given["size"].as<std::string>());
  if (given.count("scale"))
    window.scale = static_cast<float>(within(given, "scale", 0.5, 4.0));
  else if (window.hidden)
    window.scale = 1.0F;
  return window;
}

std::size_t choice(const std::string& option, const std::string& word,
                   const std::vector<std::string>& words) {
  const auto found = std::find(words.begin(), words.end(), word);
  if (found != words.end()) return static_cast<std::size_t>(found - words.begin());
  std::string all;
  for (std::size_t n = 0; n < words.size(); ++n)
    all += (n == 0 ? "" : n + 1 == words.size() ? " or " : ", ") + words[n];
  throw CommandLineError(fmt::format("{} expects {}, not '{}'", option, all, word));
}

std::string plan_file(const po::variables_map& given) {
  if (!given.count("plan")) return {};
  std::string file = given["plan"].as<std::string>();
  host::read_touch_plan(file);
  return file;
}

void draw_hidden(view::Shell& shell, view::Page& page, const po::variables_map& given,
                 const std::string& about) {
  constexpr double kFrame_s = 1.0 / 60.0;
  if (given.count("frame-times")) {
    const std::clock_t begin = std::clock();
    const std::vector<double> ms =
        shell.frame_times_ms(page, within(given, "frame-times", 2, 100'000), kFrame_s);
    const double processor_ms = 1000.0 * static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
    print(frame_times_text(ms, processor_ms, shell.picture(), about));
  }
  if (!given.count("screenshot")) return;
  // Sizes of widgets are known from the second frame on, places scrolled to from the third.
  for (int n = 0; n < 4; ++n) shell.frame(page, 0.0);
  view::write_png(given["screenshot"].as<std::string>(), shell.picture());
}

}  // namespace bareglass::tools
