#include "bench_command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <fstream>
#include <optional>
#include <sstream>

#include "bareglass/host/capture/error.hpp"
#include "bareglass/view/bench_page.hpp"
#include "bareglass/view/shell.hpp"
#include "cli.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

std::string help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass bench [SCENARIO|LESSON] [options]\n\n"
         "A live simulated panel in a window: put a finger, tape, a damp note, drops on the glass, "
         "cut a\n"
         "line, float the ground, press power, and see what the panel sees, what it decides and "
         "why.\n"
         "SCENARIO is a file for `bareglass simulate`. LESSON is a lesson file, or the name of one "
         "that\n"
         "ships:\n\n";
  for (const view::Lesson& lesson : view::built_in_lessons())
    out << fmt::format("  {:<22} {}\n", lesson.name, lesson.about);
  out << "\nIn the window, F1 lists the keys.\n\n" << options;
  return out.str();
}

po::options_description bench_options() {
  po::options_description options("Options");
  options.add_options()("lesson", po::value<std::string>()->value_name("LESSON"),
                        "a lesson, by its name or file")("step", po::value<int>()->value_name("N"),
                                                         "begin with step N of the lesson, from 1")(
      "answered", "with --step: after the step has happened")(
      "rows", po::value<int>()->default_value(16)->value_name("N"),
      "rows of the free bench, 2 to 128")("columns",
                                          po::value<int>()->default_value(10)->value_name("N"),
                                          "columns of the free bench, 2 to 128")(
      "layer", po::value<std::string>()->value_name("NAME"),
      "what to show first: glass, raw, baseline or difference")(
      "at", po::value<double>()->value_name("SECONDS"),
      "let so much simulated time pass first, 0 to 3600")(
      "size", po::value<std::string>()->default_value("1280x800")->value_name("WxH"),
      "size of the window, 640x480 to 4096x4096")(
      "scale", po::value<double>()->value_name("S"),
      "pixels per point, 0.5 to 4; what the display asks for if not given")(
      "screenshot", po::value<std::string>()->value_name("FILE"),
      "write a PNG of the window and end; needs no screen")(
      "frame-times", po::value<int>()->value_name("N"),
      "draw N frames as fast as they go, print how long they took, and end; needs no screen");
  return options;
}

struct Size {
  int width, height;
};

Size parse_size(const std::string& text) {
  Size size{};
  char between = 0;
  std::istringstream in(text);
  in >> size.width >> between >> size.height;
  const bool good = !in.fail() && between == 'x' &&
                    in.peek() == std::istringstream::traits_type::eof() && size.width >= 640 &&
                    size.width <= 4096 && size.height >= 480 && size.height <= 4096;
  if (!good)
    throw CommandLineError(
        fmt::format("--size expects WIDTHxHEIGHT from 640x480 to 4096x4096, not '{}'", text));
  return size;
}

template <typename T>
T within(const po::variables_map& given, const char* option, T low, T high) {
  const T value = given[option].as<T>();
  if (!(value >= low && value <= high))
    throw CommandLineError(fmt::format("--{} expects {} to {}, not {}", option, low, high, value));
  return value;
}

view::Layer parse_layer(const std::string& text) {
  if (text == "glass") return view::Layer::things;
  if (text == "raw") return view::Layer::raw;
  if (text == "baseline") return view::Layer::baseline;
  if (text == "difference") return view::Layer::difference;
  throw CommandLineError(
      fmt::format("--layer expects glass, raw, baseline or difference, not '{}'", text));
}

const view::Lesson* built_in(const std::string& name) {
  for (const view::Lesson& lesson : view::built_in_lessons())
    if (lesson.name == name) return &lesson;
  return nullptr;
}

/// Lessons have steps, scenarios have none.
bool is_lesson_file(const std::string& path) {
  std::ifstream in(path);
  for (std::string line; std::getline(in, line);)
    if (line.rfind("[[step]]", 0) == 0) return true;
  return false;
}

view::Lesson lesson_of(const std::string& word) {
  if (const view::Lesson* known = built_in(word)) return *known;
  return view::load_lesson(word);
}

std::unique_ptr<view::BenchPage> open_page(const po::variables_map& given) {
  const std::string word = given.count("SCENARIO") ? given["SCENARIO"].as<std::string>() : "";
  const std::string lesson = given.count("lesson") ? given["lesson"].as<std::string>() : "";
  if (!word.empty() && !lesson.empty())
    throw CommandLineError("expected one scenario or lesson, not two");
  if (!lesson.empty()) return std::make_unique<view::BenchPage>(lesson_of(lesson));
  if (!word.empty() && (built_in(word) != nullptr || is_lesson_file(word)))
    return std::make_unique<view::BenchPage>(lesson_of(word));
  if (given.count("step")) throw CommandLineError("--step expects a lesson");
  if (!word.empty()) return std::make_unique<view::BenchPage>(panel::load_scenario(word));
  panel::Scenario bench =
      view::bare_bench(within(given, "rows", 2, 128), within(given, "columns", 2, 128));
  const double scan_us = bench.setup.rows * bench.setup.front_end.row_time_us;
  bench.frame_period_us =
      std::max(bench.frame_period_us, static_cast<std::uint32_t>(std::ceil(scan_us)));
  return std::make_unique<view::BenchPage>(std::move(bench));
}

void go_to_step(view::LessonRun& run, const po::variables_map& given) {
  if (given.count("step")) {
    const int last = static_cast<int>(run.lesson().steps.size());
    run.go_to(static_cast<std::size_t>(within(given, "step", 1, last) - 1));
  }
  if (!given.count("answered")) return;
  if (run.step().choices.empty())
    run.go_on();
  else
    run.predict(0);
  run.finish_running();
}

/// A busy glass for measuring: five things, a finger that keeps moving.
void make_busy(view::BenchModel& bench) {
  const view::GlassSize size = view::glass_size(bench.story());
  const auto at = [&](double x, double y) {
    return field::Point{x * size.width_mm, y * size.height_mm};
  };
  bench.power(true);
  bench.advance(1.0);
  bench.put(view::ShelfItem::damp_note, at(0.25, 0.3));
  bench.put(view::ShelfItem::streak, at(0.7, 0.3));
  bench.put(view::ShelfItem::metal_label, at(0.3, 0.7));
  bench.put(view::ShelfItem::residue, at(0.75, 0.75));
  const std::size_t finger = bench.put(view::ShelfItem::finger, at(0.2, 0.5)).front();
  for (int n = 0; n < 200; ++n) {
    panel::Event e;
    e.word = "move";
    e.action = panel::Action::move;
    e.thing = finger;
    e.at_s = 2.0 * n;
    e.over_s = 2.0;
    e.to = n % 2 == 0 ? at(0.8, 0.55) : at(0.2, 0.5);
    bench.schedule({e});
  }
}

/// `processor_ms`: of all frames together; unlike the frames' own times it does not count what
/// other programs did meanwhile.
std::string frame_times_text(std::vector<double> ms, double processor_ms,
                             const view::Picture& picture, const panel::PanelSetup& setup) {
  std::sort(ms.begin(), ms.end());
  const auto at = [&](double share) {
    return ms[static_cast<std::size_t>(share * static_cast<double>(ms.size() - 1))];
  };
  return fmt::format(
      "{} frames of {} x {} pixels, panel of {} x {} nodes with live physics, software renderer\n"
      "half of the frames took at most {:.1f} ms, 90 % {:.1f} ms, 99 % {:.1f} ms, all {:.1f} ms\n"
      "processor time: {:.1f} ms a frame\n",
      ms.size(), picture.width, picture.height, setup.rows, setup.columns, at(0.5), at(0.9),
      at(0.99), ms.back(), processor_ms / static_cast<double>(ms.size()));
}

}  // namespace

int run_bench(int argc, const char* const* argv) {
  const po::options_description options = bench_options();
  const po::variables_map given = parse(argc, argv, options, {"SCENARIO"});
  if (given.count("help")) {
    print(help(options));
    return kDone;
  }
  view::ShellOptions window;
  const Size size = parse_size(given["size"].as<std::string>());
  window.width = size.width;
  window.height = size.height;
  window.hidden = given.count("screenshot") > 0 || given.count("frame-times") > 0;
  if (given.count("scale"))
    window.scale = static_cast<float>(within(given, "scale", 0.5, 4.0));
  else if (window.hidden)
    window.scale = 1.0F;
  const std::unique_ptr<view::BenchPage> page = open_page(given);
  if (given.count("layer")) page->show(parse_layer(given["layer"].as<std::string>()));
  if (page->lesson() != nullptr) go_to_step(*page->lesson(), given);
  if (given.count("at")) page->bench().advance(within(given, "at", 0.0, 3600.0));
  view::Shell shell(window);
  if (given.count("frame-times")) {
    constexpr double kFrame_s = 1.0 / 60.0;
    if (!given.count("SCENARIO") && page->lesson() == nullptr) make_busy(page->bench());
    const std::clock_t begin = std::clock();
    const std::vector<double> ms =
        shell.frame_times_ms(*page, within(given, "frame-times", 2, 100'000), kFrame_s);
    const double processor_ms = 1000.0 * static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
    print(frame_times_text(ms, processor_ms, shell.picture(), page->bench().story().setup));
  }
  if (given.count("screenshot")) {
    shell.frame(*page, 0.0);
    shell.frame(*page, 0.0);  // sizes of widgets are known from the second frame on
    view::write_png(given["screenshot"].as<std::string>(), shell.picture());
  }
  if (!window.hidden) shell.run(*page);
  return kDone;
}

}  // namespace bareglass::tools
