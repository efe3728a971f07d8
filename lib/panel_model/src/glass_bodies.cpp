#include "glass_bodies.hpp"

#include <cmath>
#include <tuple>

namespace bareglass::panel {

namespace {

int on_grid(double mm) { return static_cast<int>(std::lround(mm / Bodies::kJoinGrid)); }

}  // namespace

bool Bodies::Member::operator<(const Member& o) const {
  return std::tie(outline, x, y) < std::tie(o.outline, o.x, o.y);
}

bool Bodies::Key::operator<(const Key& o) const {
  return std::tie(height, members) < std::tie(o.height, o.members);
}

Bodies::Bodies(const field::PanelSpec& spec, field::SurfaceKernels kernels) : spec_(spec) {
  surfaces_.emplace(height_of({}), field::SurfaceModel(std::move(kernels)));
}

Bodies::Height Bodies::height_of(const Spacer& spacer) {
  return spacer.thickness_um > 0.0 ? Height{spacer.thickness_um, spacer.permittivity}
                                   : Height{0.0, 1.0};
}

const field::SurfaceModel& Bodies::surface(const Spacer& spacer) {
  const Height height = height_of(spacer);
  const auto found = surfaces_.find(height);
  if (found != surfaces_.end()) return found->second;
  field::PanelSpec raised = spec_;
  // Series capacitance: a spacer counts as so much more cover glass.
  field::Layer& cover = raised.layers.front();
  cover.thickness_mm += spacer.thickness_um * 1e-3 * cover.permittivity / spacer.permittivity;
  return surfaces_.emplace(height, field::SurfaceModel(kernels_of(raised))).first->second;
}

Body& Bodies::body(Key key, std::vector<OutlinePtr> outlines) {
  constexpr std::size_t kMostBodies = 200;
  const auto found = bodies_.find(key);
  if (found != bodies_.end()) {
    found->second.used = frame_;
    return *found->second.body;
  }
  if (bodies_.size() >= kMostBodies) {
    // Those of this frame stay: they are in use.
    for (auto it = bodies_.begin(); it != bodies_.end();)
      it = it->second.used < frame_ ? bodies_.erase(it) : std::next(it);
    forgot_ = true;
  }
  OutlinePtr outline = outlines.front();
  if (outlines.size() > 1) {
    std::vector<field::Shape> shapes;
    for (std::size_t k = 0; k < outlines.size(); ++k)
      for (const field::Shape& s : outlines[k]->shapes())
        shapes.push_back(
            panel::moved(s, {key.members[k].x * kJoinGrid, key.members[k].y * kJoinGrid}));
    outline = std::make_shared<const Outline>(std::move(shapes));
  }
  const Spacer spacer{key.height.first, key.height.second};
  Entry entry{std::move(outlines), std::make_unique<Body>(outline, surface(spacer)), frame_};
  return *bodies_.emplace(std::move(key), std::move(entry)).first->second.body;
}

Body& Bodies::single(const Conductor& c, const Spacer& spacer) {
  return body({height_of(spacer), {{c.outline.get(), 0, 0}}}, {c.outline});
}

Body& Bodies::joined(const std::vector<const Conductor*>& parts, const Spacer& spacer) {
  Key key{height_of(spacer), {}};
  std::vector<OutlinePtr> outlines;
  for (const Conductor* c : parts) {
    key.members.push_back({c->outline.get(), on_grid(c->place.x - parts.front()->place.x),
                           on_grid(c->place.y - parts.front()->place.y)});
    outlines.push_back(c->outline);
  }
  return body(std::move(key), std::move(outlines));
}

}  // namespace bareglass::panel
