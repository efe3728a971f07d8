#include "bench_command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <optional>
#include <sstream>

#include "bareglass/capture/error.hpp"
#include "bareglass/view/bench_page.hpp"
#include "bareglass/view/shell.hpp"
#include "cli.hpp"
#include "files_apart.hpp"
#include "window_options.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

std::string bench_help(const po::options_description& options) {
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
      "panel", po::value<std::string>()->value_name("FILE"),
      "panel file of the free bench (TOML, as in fixtures/panels)")(
      "touch-test", "begin with a touch test; --plan names its plan");
  return options.add(window_options());
}

view::Layer bench_layer(const std::string& word) {
  return static_cast<view::Layer>(
      choice("--layer", word, {"glass", "raw", "baseline", "difference"}));
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
  if (!word.empty() && !std::ifstream(word))
    throw host::CaptureError(word, "",
                             "cannot be read; expected a scenario, a lesson file, or the name of a "
                             "lesson as 'bareglass bench --help' lists them");
  if (given.count("step")) throw CommandLineError("--step expects a lesson");
  if (!word.empty()) return std::make_unique<view::BenchPage>(panel::load_scenario(word));
  panel::Scenario bench =
      view::bare_bench(within(given, "rows", 2, 128), within(given, "columns", 2, 128));
  const double scan_us = bench.setup.rows * bench.setup.front_end.row_time_us;
  bench.frame_period_us =
      std::max(bench.frame_period_us, static_cast<std::uint32_t>(std::ceil(scan_us)));
  auto page = std::make_unique<view::BenchPage>(std::move(bench));
  if (given.count("panel")) page->bench().set_panel(given["panel"].as<std::string>());
  return page;
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

}  // namespace

int run_bench(int argc, const char* const* argv) {
  const po::options_description options = bench_options();
  const po::variables_map given = parse(argc, argv, options, {"SCENARIO"});
  if (given.count("help")) {
    print(bench_help(options));
    return kDone;
  }
  expect_apart(files_of(given, {"SCENARIO", "lesson", "panel", "plan"}),
               files_of(given, {"screenshot"}));
  const bool hidden = window_of(given, {}).hidden;
  const std::string remembered = hidden ? "" : view::view_memory_path();
  const view::ViewMemory memory = view::load_view_memory(remembered);
  view::ShellOptions as_before;
  as_before.width = memory.width;
  as_before.height = memory.height;
  const view::ShellOptions window = window_of(given, as_before);
  const std::string plan = plan_file(given);
  const std::unique_ptr<view::BenchPage> page = open_page(given);
  page->recall(memory);
  if (given.count("layer")) page->show(bench_layer(given["layer"].as<std::string>()));
  if (page->lesson() != nullptr) go_to_step(*page->lesson(), given);
  if (given.count("at")) page->bench().advance(within(given, "at", 0.0, 3600.0));
  page->set_touch_plan(plan);
  if (given.count("touch-test")) {
    // A test needs a panel that reports touches.
    if (!page->bench().unit().powered()) page->bench().power(true);
    page->bench().advance(1.0);
    page->begin_touch_test(plan);
  }
  view::Shell shell(window);
  const bool free = !given.count("SCENARIO") && page->lesson() == nullptr;
  if (given.count("frame-times") && free) make_busy(page->bench());
  const panel::PanelSetup& setup = page->bench().story().setup;
  draw_hidden(shell, *page, given,
              fmt::format("panel of {} x {} nodes with live physics", setup.rows, setup.columns));
  if (hidden) return kDone;
  shell.run(*page);
  // A replay may have been open meanwhile: what it remembers stays.
  view::ViewMemory now = view::load_view_memory(remembered);
  page->remember(now);
  view::save_view_memory(remembered, now);
  return kDone;
}

}  // namespace bareglass::tools
