#pragma once
// The outlines on a panel's glass as the surface model wants them, kept from frame to frame.

#include <cstdint>
#include <map>
#include <memory>
#include <utility>
#include <vector>

#include "bareglass/panel_model/glass_model.hpp"
#include "body.hpp"

namespace bareglass::panel {

/// Kept bodies, by outline and height above the glass.
class Bodies {
 public:
  /// `kernels` belong to `spec`.
  Bodies(const field::PanelSpec& spec, field::SurfaceKernels kernels);

  /// To be called once a frame, before anything else: bodies given out in the frame before may go.
  void next_frame() { ++frame_; }
  /// True once after bodies have gone: what was kept of them must go as well.
  bool forgot() { return std::exchange(forgot_, false); }

  const field::SurfaceModel& surface(const Spacer& spacer);
  /// A thing by itself, on its own spacer or on another.
  Body& single(const Conductor& c) { return single(c, c.spacer); }
  Body& single(const Conductor& c, const Spacer& spacer);
  /// Things joined to one outline, at their places relative to the first one on a grid of
  /// kJoinGrid.
  Body& joined(const std::vector<const Conductor*>& parts, const Spacer& spacer);

  static constexpr double kJoinGrid = 0.25;  ///< mm

 private:
  using Height = std::pair<double, double>;  // of the spacer: thickness, permittivity
  struct Member {
    const Outline* outline;
    int x, y;  // place relative to the first one, in kJoinGrid
    bool operator<(const Member& o) const;
  };
  struct Key {
    Height height;
    std::vector<Member> members;
    bool operator<(const Key& o) const;
  };
  struct Entry {
    std::vector<OutlinePtr> keep_alive;  // addresses in the key stay taken
    std::unique_ptr<Body> body;
    std::uint64_t used = 0;
  };
  static Height height_of(const Spacer& spacer);
  Body& body(Key key, std::vector<OutlinePtr> outlines);

  field::PanelSpec spec_;
  std::map<Height, field::SurfaceModel> surfaces_;
  std::map<Key, Entry> bodies_;
  std::uint64_t frame_ = 0;
  bool forgot_ = false;
};

}  // namespace bareglass::panel
