#pragma once
// A dump in the window: the glass, the timeline, why input is off, a node's history.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/view/page.hpp"
#include "bareglass/view/replay_model.hpp"
#include "bareglass/view/view_memory.hpp"

namespace bareglass::view {

class ReplayPage : public Page {
 public:
  /// What the side shows.
  enum class Side { why, next, evidence };
  static constexpr int kSides = 3;

  /// `memory` outlives the page. Without a request: an invitation to open a dump.
  ReplayPage(std::optional<OpenRequest> request, ViewMemory& memory);
  ~ReplayPage() override;

  std::string title() const override;
  void update(double seconds) override;
  void draw(const Theme& theme, float width, float height) override;
  std::vector<KeyBinding> keys() override;
  void drop(const std::string& path) override { open(path); }
  bool moving() const override;
  void close() override;

  /// Shows another dump, read as the first one was.
  void open(const std::string& path);
  /// Nothing before a dump is chosen.
  ReplayModel* model() { return model_.get(); }
  /// A touch test on the frames that arrive from now on, with the plan that was asked for when the
  /// page was made, else the default one; or the end of one.
  void toggle_touch_test();
  /// Folder that results are written to.
  void keep_in(std::string folder) { folder_ = std::move(folder); }
  /// What the page told last, such as where a result was saved.
  const std::string& told() const { return told_; }
  Side side() const { return side_; }
  void show(Side side) { side_ = side; }

  /// Where things were drawn in the last frame, pixels: for tests that click.
  ImVec2 pixel_of_node(int row, int col) const;
  ImVec2 pixel_of_time(std::uint64_t at_us) const;
  ImVec2 pixel_of_sentence(std::size_t n) const;

 private:
  struct Area {
    float x, y, w, h;
  };
  // replay_page.cpp
  void draw_invitation(const Theme& theme, float width, float height);
  void draw_recent(const Theme& theme, float width);
  void draw_dump(const Theme& theme, float width, float height);
  void draw_head(const Theme& theme, Area area);
  void draw_moment(const Theme& theme, Area area);
  // replay_glass.cpp
  void draw_glass(const Theme& theme, Area area);
  void draw_layer_buttons(const Theme& theme, float width);
  void take_mouse(ImVec2 low, ImVec2 high);
  // replay_timeline.cpp
  void draw_timeline(const Theme& theme, Area area);
  void draw_transport(const Theme& theme);
  void draw_strip(const Theme& theme, ImVec2 low, ImVec2 high);
  void draw_states(const Theme& theme, float top, float bottom);
  void draw_marks(const Theme& theme, float top, float bottom);
  float x_of(std::uint64_t at_us) const;
  // replay_side.cpp
  void draw_side(const Theme& theme, Area area);
  void draw_story(const Theme& theme);
  void draw_next_steps(const Theme& theme);
  void draw_evidence(const Theme& theme);
  // replay_touch.cpp
  void draw_touch(const Theme& theme, Area area);
  void begin_touch_test();
  void save_touch_test();
  std::string touch_hindrance() const;
  // replay_history.cpp
  void draw_history(const Theme& theme, Area area);

  OpenRequest asked_;
  ViewMemory& memory_;
  std::unique_ptr<ReplayModel> model_;
  Side side_ = Side::why;
  TouchRequest touch_request_;
  std::string folder_ = ".";
  std::string told_;
  double told_for_s_ = 0.0;
  bool remembered_ = false;  ///< this dump is among the recent ones
  bool dragging_ = false;    ///< the timeline is held
  std::optional<std::size_t> scrolled_to_;
  float strip_low_ = 0.0F, strip_high_ = 1.0F, strip_y_ = 0.0F;
  ImVec2 origin_{0, 0};  ///< of node (0, 0)
  float step_x_ = 1.0F, step_y_ = 1.0F;
  std::vector<ImVec2> sentence_at_;
};

}  // namespace bareglass::view
