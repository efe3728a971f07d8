#pragma once
// The live bench in the window: the glass, the shelf, the device, lessons.

#include <array>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "bareglass/view/bench_model.hpp"
#include "bareglass/view/lesson_run.hpp"
#include "bareglass/view/page.hpp"
#include "bareglass/view/touch_session.hpp"
#include "bareglass/view/view_memory.hpp"

namespace bareglass::view {

/// What the centre of the page shows.
enum class Layer { things, raw, baseline, difference };
constexpr int kLayers = 4;
const char* name_of(Layer layer);

class BenchPage : public Page {
 public:
  explicit BenchPage(panel::Scenario story);
  explicit BenchPage(Lesson lesson);
  ~BenchPage() override;

  std::string title() const override;
  void update(double seconds) override;
  void draw(const Theme& theme, float width, float height) override;
  std::vector<KeyBinding> keys() override;
  void drop(const std::string& path) override { open_file(path); }
  void close() override;

  /// The bench that is shown: the lesson's while one is given, else the free one.
  BenchModel& bench();
  /// Nothing while no lesson is given.
  LessonRun* lesson() { return lesson_.get(); }
  void give_lesson(Lesson lesson);
  void leave_lesson();
  /// A lesson, a scenario or a panel file, told apart by what it holds. What is wrong with it
  /// becomes a sentence on the page; nothing changes then.
  void open_file(const std::string& path);
  /// A guided touch test on the free bench; nothing while none is made.
  TouchSession* touch_test() { return touch_.get(); }
  /// Begins one, with a plan file (empty: the default plan). Throws host::CaptureError for a file
  /// that is no plan of this panel.
  void begin_touch_test(const std::string& plan_file = {});
  void end_touch_test();
  /// The plan file that touch tests begun in the window follow; empty: the default plan.
  void set_touch_plan(std::string file) { touch_plan_ = std::move(file); }
  void show(Layer layer) { layer_ = layer; }
  Layer layer() const { return layer_; }
  /// Begins as the bench was left the last time, and keeps in `memory` how it is left now.
  void recall(const ViewMemory& memory);
  void remember(ViewMemory& memory) const;
  /// Where the keyboard puts things, mm.
  field::Point cursor() const { return cursor_; }
  std::optional<std::size_t> selected() const { return selected_; }
  void select(std::optional<std::size_t> thing) { selected_ = thing; }
  /// What the page told last, such as where a scene was saved.
  const std::string& told() const { return told_; }
  /// The glass on the screen in the frame drawn last: pixels of a point in mm.
  ImVec2 pixel_of(field::Point mm) const;
  /// Folder that recordings and scenes are written to.
  void keep_in(std::string folder) { folder_ = std::move(folder); }

 private:
  struct Area {
    float x, y, w, h;
  };
  // bench_page.cpp
  void draw_head(const Theme& theme, Area area);
  void draw_glass_area(const Theme& theme, Area area);
  void take_mouse(const Theme& theme, bool over_glass);
  // bench_shelf_card.cpp
  void draw_shelf(const Theme& theme, Area area);
  void draw_selected(const Theme& theme);
  // bench_panels.cpp
  void draw_side(const Theme& theme, Area area);
  void draw_device();
  void draw_faults(const Theme& theme);
  void draw_settings(const Theme& theme);
  void draw_panel_fields();
  void draw_keep(const Theme& theme);
  void draw_journal(const Theme& theme, Area area);
  // bench_lesson_card.cpp
  void draw_lesson(const Theme& theme, Area area);
  void draw_choices(const Theme& theme);
  void draw_lesson_list(const Theme& theme, Area area);
  // bench_touch.cpp
  void draw_targets(const Theme& theme);
  void draw_touch_area(const Theme& theme, Area area);
  void take_touch_mouse(field::Point at, bool over_glass);
  void toggle_touch_test();
  void save_touch_test();
  // bench_keys.cpp
  void add_glass_keys(std::vector<KeyBinding>& out);
  void add_device_keys(std::vector<KeyBinding>& out);
  void add_page_keys(std::vector<KeyBinding>& out);

  void put(ShelfItem item, field::Point at);
  void select_next();
  void move_cursor(double dx_mm, double dy_mm);
  void move_selected(double dx_mm, double dy_mm);
  void toggle_power();
  void next_earth();
  void next_battery();
  void next_glass();
  void toggle_charger_noise();
  void toggle_recording();
  void save_scene();
  void cut_here();
  void loosen_tail_here();
  void bridge_here();
  void answer(std::size_t choice);
  void go_on();
  /// Does `what` after the next frame, which says `told` meanwhile: for what takes seconds.
  void attempt_later(std::string told, std::function<void()> what);
  void use_panel_file(const std::string& file);
  void use_glass(double mm);
  void use_size(int rows, int columns);
  /// Runs what the user asked for; what it throws becomes a sentence on the page.
  void attempt(const std::function<void()>& what);
  int row_here();
  int column_here();

  std::unique_ptr<BenchModel> free_;
  std::unique_ptr<LessonRun> lesson_;
  std::unique_ptr<TouchSession> touch_;
  std::string touch_plan_;     ///< plan file; empty: the default plan
  bool touch_by_key_ = false;  ///< the finger was put down by the keyboard
  Layer layer_ = Layer::difference;
  field::Point cursor_{20.0, 30.0};
  bool cursor_shown_ = false;   ///< once the keyboard moves it
  int width_ = 0, height_ = 0;  ///< of the window drawn last, points
  std::optional<std::size_t> selected_;
  std::optional<ShelfItem> in_hand_;
  field::Point grip_{0.0, 0.0};  ///< from a dragged thing's middle to where it is held, mm
  bool paused_ = false;
  bool lesson_list_ = false;
  bool answer_shown_ = false;  ///< the card has been scrolled to it
  std::function<void()> later_;
  bool later_is_due_ = false;
  /// The page's own fields, for typing.
  enum class Field { none, panel_file, rows };
  Field focus_ = Field::none;  ///< to be given the keyboard in the next frame
  std::array<char, 1024> panel_file_{};
  int rows_wanted_ = 0, columns_wanted_ = 0;  ///< 0: as the panel is
  std::string told_;
  double told_for_s_ = 0.0;
  std::string folder_ = ".";
  int kept_ = 0;  ///< files written, for their names
  ImVec2 origin_{0, 0};
  float px_per_mm_ = 1.0F;
};

}  // namespace bareglass::view
