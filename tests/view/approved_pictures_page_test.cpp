// What the pages look like, held against pictures that were looked at and approved.
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <string>

#include "bareglass/view/bench_page.hpp"
#include "bareglass/view/replay_page.hpp"
#include "support/approved_picture.hpp"
#include "support/dump_files.hpp"

namespace bareglass::view {
namespace {

using support::expect_approved_picture;

constexpr double kFrame_s = 1.0 / 60.0;

/// 1280 x 800, one pixel a point.
struct ApprovedPicture : ::testing::Test {
  Shell shell{[] {
    ShellOptions options;
    options.hidden = true;
    options.scale = 1.0F;
    return options;
  }()};
  Picture drawn(Page& page, double seconds = 0.0) {
    const int frames = static_cast<int>(std::lround(seconds / kFrame_s));
    for (int n = 0; n < frames; ++n) shell.frame(page, kFrame_s);
    for (int n = 0; n < 4; ++n) shell.frame(page, 0.0);
    return shell.picture();
  }
};

TEST_F(ApprovedPicture, OfTheBenchWithADampNote) {
  BenchPage page(bare_bench());
  page.bench().put(ShelfItem::damp_note, {20.0, 30.0});
  page.bench().put(ShelfItem::finger, {35.0, 60.0});
  page.bench().power(true);
  expect_approved_picture("bench-damp-note", drawn(page, 1.0));
}

TEST_F(ApprovedPicture, OfTheBenchWithThingsOnItsGlass) {
  BenchPage page(bare_bench());
  page.show(Layer::things);
  page.bench().put(ShelfItem::tape, {22.0, 15.0});
  page.bench().put(ShelfItem::drops, {18.0, 50.0});
  page.bench().put(ShelfItem::metal_label, {32.0, 66.0});
  expect_approved_picture("bench-things", drawn(page));
}

TEST_F(ApprovedPicture, OfALessonWithItsAnswer) {
  BenchPage page(bare_bench());
  for (const Lesson& lesson : built_in_lessons())
    if (lesson.name == "crack-and-tail") page.give_lesson(lesson);
  ASSERT_NE(page.lesson(), nullptr);
  page.lesson()->go_to(1);
  page.lesson()->predict(0);
  page.lesson()->finish_running();
  expect_approved_picture("lesson-crack", drawn(page));
}

TEST_F(ApprovedPicture, OfAQuestionBeforeItsAnswer) {
  BenchPage page(bare_bench());
  for (const Lesson& lesson : built_in_lessons())
    if (lesson.name == "floating-ground") page.give_lesson(lesson);
  ASSERT_NE(page.lesson(), nullptr);
  expect_approved_picture("lesson-question", drawn(page));
}

TEST_F(ApprovedPicture, OfATouchTestThatWasNotPassed) {
  const std::string path = support::temporary_path("approved-touch.frames");
  support::write_bytes(path,
                       support::simulated_dump("touch-test-cut-row", host::CaptureFormat::frames));
  OpenRequest request{path, {}, {}};
  request.touch = TouchRequest{};
  ViewMemory memory;
  ReplayPage page(request, memory);
  page.model()->finish_opening();
  // The name of the file would differ from run to run.
  Picture picture = drawn(page);
  for (int y = 60; y < 74; ++y)
    for (int x = 30; x < 500; ++x)
      for (std::size_t c = 0; c < 3; ++c)
        picture.rgb[3 * static_cast<std::size_t>(y * picture.width + x) + c] = 255;
  expect_approved_picture("touch-test-missed", picture);
  std::filesystem::remove(path);
}

}  // namespace
}  // namespace bareglass::view
