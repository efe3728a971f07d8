// Our own small drawings of what can lie on a glass.
#include <algorithm>
#include <cmath>

#include "glass_canvas.hpp"

namespace bareglass::view {

namespace {

using panel::Look;

float px(double value) { return static_cast<float>(value); }

struct Paint {
  ImU32 fill;
  ImU32 edge;
};

Paint paint_of(Look look) {
  switch (look) {
    case Look::finger:
    case Look::hand:
      return {IM_COL32(214, 178, 160, 205), IM_COL32(128, 88, 72, 255)};
    case Look::tape:
      return {IM_COL32(232, 206, 128, 150), IM_COL32(164, 132, 52, 255)};
    case Look::paper:
      return {IM_COL32(252, 246, 196, 225), IM_COL32(150, 140, 84, 255)};
    case Look::drop:
    case Look::wet_film:
    case Look::bezel_fluid:
      return {IM_COL32(112, 170, 200, 130), IM_COL32(44, 104, 140, 255)};
    case Look::residue:
      return {IM_COL32(168, 142, 104, 120), IM_COL32(116, 92, 58, 255)};
    case Look::metal:
      return {IM_COL32(176, 182, 188, 230), IM_COL32(86, 92, 100, 255)};
    case Look::unsaid:
      break;
  }
  return {IM_COL32(180, 180, 180, 140), colour::kInk};
}

ImU32 fainter(ImU32 colour, float by) {
  const ImU32 alpha = (colour >> IM_COL32_A_SHIFT) & 0xFFU;
  const auto less = static_cast<ImU32>(static_cast<float>(alpha) * by);
  return (colour & ~IM_COL32_A_MASK) | (less << IM_COL32_A_SHIFT);
}

/// A figure that stays the same from frame to frame, 0..1.
float scatter(int n) {
  const double x = std::sin(12.9898 * n + 4.1) * 43758.5453;
  return static_cast<float>(x - std::floor(x));
}

/// Outline of a thing on the screen, as one or more closed figures.
struct Figure {
  std::vector<ImVec2> corners;
  bool round = false;
  ImVec2 middle{0, 0};
  float radius = 0.0F;
};

ImVec2 place(const GlassFrame& f, const panel::ThingState& s, field::Point own) {
  return f.at({s.place.x + own.x, s.place.y + own.y});
}

// A stroke as one closed band: along its left side, round its end, and back.
std::vector<ImVec2> band(const GlassFrame& f, const panel::ThingState& s,
                         const field::Stroke& stroke) {
  const double half = 0.5 * stroke.width_mm;
  std::vector<ImVec2> there;
  std::vector<ImVec2> back;
  const auto& path = stroke.path;
  for (std::size_t k = 0; k < path.size(); ++k) {
    const field::Point a = path[k > 0 ? k - 1 : k];
    const field::Point b = path[k + 1 < path.size() ? k + 1 : k];
    const double length = std::max(1e-6, std::hypot(b.x - a.x, b.y - a.y));
    const double nx = -(b.y - a.y) / length * half;
    const double ny = (b.x - a.x) / length * half;
    there.push_back(place(f, s, {path[k].x + nx, path[k].y + ny}));
    back.push_back(place(f, s, {path[k].x - nx, path[k].y - ny}));
  }
  there.insert(there.end(), back.rbegin(), back.rend());
  return there;
}

std::vector<Figure> figures(const GlassFrame& f, const panel::ThingState& s) {
  std::vector<Figure> out;
  for (const field::Shape& shape : s.outline->shapes()) {
    Figure figure;
    if (const auto* disc = std::get_if<field::Disc>(&shape)) {
      figure.round = true;
      figure.middle = place(f, s, disc->centre);
      figure.radius = px(disc->radius_mm) * f.px_per_mm;
    } else if (const auto* stroke = std::get_if<field::Stroke>(&shape)) {
      figure.corners = band(f, s, *stroke);
    } else {
      for (const field::Point& p : std::get<field::Polygon>(shape).corners)
        figure.corners.push_back(place(f, s, p));
    }
    out.push_back(std::move(figure));
  }
  return out;
}

/// Even-odd, in spans of two pixels: any outline, and a software renderer fills spans fastest.
void fill_spans(ImDrawList& list, const std::vector<ImVec2>& corners, ImU32 colour) {
  constexpr float kStep = 2.0F;
  float low = corners.front().y;
  float high = low;
  for (const ImVec2& p : corners) {
    low = std::min(low, p.y);
    high = std::max(high, p.y);
  }
  std::vector<float> crossings;
  for (float y = std::floor(low); y < high; y += kStep) {
    const float middle = y + 0.5F * kStep;
    crossings.clear();
    for (std::size_t k = 0; k < corners.size(); ++k) {
      const ImVec2 a = corners[k];
      const ImVec2 b = corners[(k + 1) % corners.size()];
      if ((a.y > middle) == (b.y > middle)) continue;
      crossings.push_back(a.x + (middle - a.y) / (b.y - a.y) * (b.x - a.x));
    }
    std::sort(crossings.begin(), crossings.end());
    for (std::size_t k = 0; k + 1 < crossings.size(); k += 2)
      list.AddRectFilled({std::floor(crossings[k]), y}, {std::floor(crossings[k + 1]), y + kStep},
                         colour);
  }
}

std::vector<ImVec2> ring(ImVec2 middle, float radius) {
  constexpr int kCorners = 36;
  std::vector<ImVec2> out;
  for (int n = 0; n < kCorners; ++n) {
    const float a = 6.2831853F * static_cast<float>(n) / kCorners;
    out.push_back({middle.x + radius * std::cos(a), middle.y + radius * std::sin(a)});
  }
  return out;
}

std::vector<ImVec2> corners_of(const Figure& figure) {
  return figure.round ? ring(figure.middle, figure.radius) : figure.corners;
}

void outline(ImDrawList& list, const std::vector<ImVec2>& corners, ImU32 colour, float thick) {
  list.AddPolyline(corners.data(), static_cast<int>(corners.size()), colour, ImDrawFlags_Closed,
                   thick);
}

ImVec2 between(ImVec2 a, ImVec2 b, float t) {
  return {a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)};
}

// Ruled lines and a folded corner.
void draw_paper(ImDrawList& list, const std::vector<ImVec2>& c, ImU32 ink, bool damp) {
  if (c.size() != 4) return;
  for (int n = 1; n < 6; ++n) {
    const float t = static_cast<float>(n) / 6.0F;
    list.AddLine(between(between(c[0], c[3], t), between(c[1], c[2], t), 0.08F),
                 between(between(c[0], c[3], t), between(c[1], c[2], t), 0.92F),
                 fainter(ink, 0.6F));
  }
  const ImVec2 a = between(c[1], c[0], 0.18F);
  const ImVec2 b = between(c[1], c[2], 0.18F);
  const ImVec2 fold{a.x + b.x - c[1].x, a.y + b.y - c[1].y};
  list.AddTriangleFilled(a, fold, b, fainter(ink, 0.5F));
  if (!damp) return;
  const ImU32 wet = IM_COL32(92, 150, 190, 90);
  for (int n = 0; n < 5; ++n) {
    const ImVec2 p =
        between(between(c[0], c[1], 0.2F + 0.6F * scatter(n)),
                between(c[3], c[2], 0.2F + 0.6F * scatter(n + 9)), 0.2F + 0.6F * scatter(n + 17));
    const float size = std::hypot(c[1].x - c[0].x, c[1].y - c[0].y);
    list.AddCircleFilled(p, size * (0.08F + 0.07F * scatter(n + 30)), wet, 20);
  }
}

// Torn ends and a line of gloss.
void draw_tape(ImDrawList& list, const std::vector<ImVec2>& c, ImU32 ink) {
  if (c.size() != 4) return;
  constexpr int kTeeth = 8;
  const float depth = 0.012F;
  for (const int side : {0, 1}) {
    const ImVec2 top = side == 0 ? c[0] : c[1];
    const ImVec2 bottom = side == 0 ? c[3] : c[2];
    const ImVec2 inward_top = side == 0 ? c[1] : c[0];
    const ImVec2 inward_bottom = side == 0 ? c[2] : c[3];
    for (int n = 0; n < kTeeth; ++n) {
      const float t = static_cast<float>(n) / kTeeth;
      const float u = (static_cast<float>(n) + 0.5F) / kTeeth;
      const float v = static_cast<float>(n + 1) / kTeeth;
      const ImVec2 tip =
          between(between(top, bottom, u), between(inward_top, inward_bottom, u), depth);
      list.AddTriangleFilled(between(top, bottom, t), tip, between(top, bottom, v), colour::kGlass);
    }
  }
  list.AddLine(between(c[0], c[3], 0.2F), between(c[1], c[2], 0.2F), fainter(ink, 0.5F), 1.0F);
  list.AddLine(between(c[0], c[3], 0.8F), between(c[1], c[2], 0.8F), fainter(ink, 0.5F), 1.0F);
}

// A nail turned to the top of the screen: the finger comes from below.
void draw_finger(ImDrawList& list, const Figure& f, const Paint& paint) {
  const float r = f.radius;
  const ImVec2 p = f.middle;
  list.AddRectFilled({p.x - r, p.y}, {p.x + r, p.y + 3.2F * r}, fainter(paint.fill, 0.55F));
  list.AddLine({p.x - r, p.y}, {p.x - r, p.y + 3.2F * r}, paint.edge, 1.5F);
  list.AddLine({p.x + r, p.y}, {p.x + r, p.y + 3.2F * r}, paint.edge, 1.5F);
  list.AddRectFilled({p.x - 0.5F * r, p.y - 0.65F * r}, {p.x + 0.5F * r, p.y + 0.05F * r},
                     IM_COL32(246, 226, 216, 230));
}

void draw_shine(ImDrawList& list, const Figure& f) {
  if (!f.round) return;
  list.AddCircleFilled({f.middle.x - 0.35F * f.radius, f.middle.y - 0.4F * f.radius},
                       0.22F * f.radius, IM_COL32(255, 255, 255, 190), 12);
}

// Hatched: it hides a metal layer.
void draw_metal(ImDrawList& list, const std::vector<ImVec2>& c, ImU32 ink) {
  if (c.size() != 4) return;
  for (int n = 1; n < 9; ++n) {
    const float t = static_cast<float>(n) / 9.0F;
    list.AddLine(between(c[0], c[1], t), between(c[3], c[2], std::max(0.0F, t - 0.12F)),
                 fainter(ink, 0.6F));
  }
}

void draw_specks(ImDrawList& list, const std::vector<ImVec2>& c, ImU32 ink) {
  ImVec2 middle{0, 0};
  for (const ImVec2& p : c) middle = {middle.x + p.x, middle.y + p.y};
  middle = {middle.x / static_cast<float>(c.size()), middle.y / static_cast<float>(c.size())};
  for (int n = 0; n < 22; ++n) {
    const ImVec2 edge = c[static_cast<std::size_t>(n) % c.size()];
    const ImVec2 p = between(middle, edge, 0.85F * scatter(n + 3));
    const float r = 1.5F + 2.0F * scatter(n + 50);
    list.AddRectFilled({p.x - r, p.y - r}, {p.x + r, p.y + r}, fainter(ink, 0.6F));
  }
}

void decorate(ImDrawList& list, const panel::ThingSpec& spec, const Figure& figure,
              const Paint& paint) {
  switch (look_of(spec)) {
    case Look::paper:
      return draw_paper(list, figure.corners, paint.edge, !spec.is_film);
    case Look::tape:
      return draw_tape(list, figure.corners, paint.edge);
    case Look::finger:
      if (figure.round) draw_finger(list, figure, paint);
      return;
    case Look::drop:
      return draw_shine(list, figure);
    case Look::metal:
      return draw_metal(list, figure.corners, paint.edge);
    case Look::residue:
      return draw_specks(list, corners_of(figure), paint.edge);
    default:
      return;
  }
}

}  // namespace

void draw_thing(ImDrawList& list, const Theme& theme, const GlassFrame& f,
                const panel::ThingSpec& spec, const panel::ThingState& state, bool seen_through,
                bool selected) {
  Paint paint = paint_of(look_of(spec));
  // A film that dries fades.
  if (spec.is_film && spec.film_um > 0.0)
    paint.fill = fainter(paint.fill, std::clamp(px(state.film_um / spec.film_um), 0.15F, 1.0F));
  const ImVec2 low = f.low();
  const ImVec2 high = f.high();
  const float rim = theme.px(24);
  list.PushClipRect({low.x - rim, low.y - rim}, {high.x + rim, high.y + rim}, true);
  for (const Figure& figure : figures(f, state)) {
    const std::vector<ImVec2> corners = corners_of(figure);
    if (corners.size() < 3) continue;
    if (!seen_through) {
      fill_spans(list, corners, paint.fill);
      decorate(list, spec, figure, paint);
    }
    if (selected) outline(list, corners, IM_COL32_WHITE, theme.px(5));
    outline(list, corners, selected ? colour::kAccent : paint.edge,
            theme.px(selected       ? 3.0F
                     : seen_through ? 2.0F
                                    : 1.5F));
  }
  list.PopClipRect();
}

void draw_name(ImDrawList& list, const Theme& theme, const GlassFrame& f,
               const panel::ThingSpec& spec, const panel::ThingState& state) {
  const field::Box b = state.outline->footprint().bounds();
  const ImVec2 corner = f.at({state.place.x + b.x_low, state.place.y + b.y_low});
  const ImVec2 size = theme.small->CalcTextSizeA(theme.small->FontSize, 1e6F, 0, spec.name.c_str());
  const ImVec2 low = f.low();
  const ImVec2 high = f.high();
  const ImVec2 at{std::clamp(corner.x, low.x + theme.px(2), high.x - size.x - theme.px(4)),
                  std::clamp(corner.y - size.y - theme.px(2), low.y, high.y - size.y)};
  list.AddRectFilled({at.x - theme.px(2), at.y}, {at.x + size.x + theme.px(3), at.y + size.y},
                     IM_COL32(253, 252, 248, 225));
  list.AddText(theme.small, theme.small->FontSize, at, paint_of(look_of(spec)).edge,
               spec.name.c_str());
}

void draw_icon(ImDrawList& list, ImVec2 p, float size, Look look) {
  const Paint paint = paint_of(look);
  const float r = 0.5F * size;
  if (look == Look::drop || look == Look::finger) {
    list.AddCircleFilled(p, 0.8F * r, paint.fill | IM_COL32_A_MASK, 20);
    list.AddCircle(p, 0.8F * r, paint.edge, 20, 1.5F);
  } else if (look == Look::wet_film || look == Look::residue || look == Look::hand) {
    const std::vector<ImVec2> blob = {{p.x - r, p.y - 0.3F * r},
                                      {p.x - 0.2F * r, p.y - r},
                                      {p.x + r, p.y - 0.5F * r},
                                      {p.x + 0.8F * r, p.y + 0.7F * r},
                                      {p.x - 0.4F * r, p.y + r}};
    list.AddConvexPolyFilled(blob.data(), 5, paint.fill | IM_COL32_A_MASK);
    outline(list, blob, paint.edge, 1.5F);
  } else {
    const float h = look == Look::tape          ? 0.45F * r
                    : look == Look::bezel_fluid ? 0.3F * r
                                                : 0.8F * r;
    list.AddRectFilled({p.x - r, p.y - h}, {p.x + r, p.y + h}, paint.fill | IM_COL32_A_MASK);
    list.AddRect({p.x - r, p.y - h}, {p.x + r, p.y + h}, paint.edge, 0, 0, 1.5F);
  }
}

}  // namespace bareglass::view
