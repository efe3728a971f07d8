#include "bareglass/view/replay_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "bareglass/plain/harmless.hpp"
#include "bareglass/view/plain_words.hpp"
#include "replay_drawing.hpp"

namespace bareglass::view {

ReplayPage::ReplayPage(std::optional<OpenRequest> request, ViewMemory& memory) : memory_(memory) {
  if (!request) return;
  asked_ = std::move(*request);
  if (asked_.touch) touch_request_ = *asked_.touch;
  open(asked_.path);
}

ReplayPage::~ReplayPage() = default;

void ReplayPage::open(const std::string& path) {
  // Another dump is looked at; the test was asked for on the first one.
  if (model_) asked_.touch.reset();
  asked_.path = path;
  const auto layer = model_ ? std::optional(model_->layer()) : replay_layer_of(memory_.layer);
  model_ = std::make_unique<ReplayModel>(asked_);
  if (layer) model_->show(*layer);
  remembered_ = false;
  scrolled_to_.reset();
}

std::string ReplayPage::title() const {
  return model_ ? "bareglass: " + plain::harmless(asked_.path) : "bareglass: open a dump";
}

bool ReplayPage::moving() const {
  if (!model_) return false;
  return model_->phase() == ReplayModel::Phase::opening || model_->playing() || model_->walking() ||
         model_->partly_told() || dragging_ || model_->touch_test() != nullptr ||
         model_->quiet_s() < 1.0;
}

void ReplayPage::update(double seconds) {
  if (!model_) return;
  told_for_s_ -= seconds;
  if (told_for_s_ <= 0.0) told_.clear();
  model_->update(seconds);
  if (model_->phase() != ReplayModel::Phase::ready || remembered_) return;
  remembered_ = true;
  memory_.opened(asked_.path);
}

void ReplayPage::close() {
  if (!model_) return;
  std::string word = name_of(model_->layer());
  word.front() = static_cast<char>(word.front() - 'A' + 'a');
  memory_.layer = word;
}

void ReplayPage::draw(const Theme& theme, float width, float height) {
  memory_.width = std::clamp(static_cast<int>(width / theme.scale), 640, 8192);
  memory_.height = std::clamp(static_cast<int>(height / theme.scale), 480, 8192);
  ImGui::SetNextWindowPos({0, 0});
  ImGui::SetNextWindowSize({width, height});
  ImGui::Begin("replay", nullptr,
               ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove |
                   ImGuiWindowFlags_NoSavedSettings | ImGuiWindowFlags_NoBringToFrontOnFocus);
  if (model_ && model_->phase() == ReplayModel::Phase::ready)
    draw_dump(theme, width, height);
  else
    draw_invitation(theme, width, height);
  ImGui::End();
}

void ReplayPage::draw_invitation(const Theme& theme, float width, float height) {
  const float w = std::min(theme.px(760), width - theme.px(40));
  begin_area("invitation", 0.5F * (width - w), 0.22F * height, w, theme.px(360), true);
  ImGui::PushTextWrapPos(w - theme.px(20));
  ImGui::PushFont(theme.large);
  const bool failed = model_ && model_->phase() == ReplayModel::Phase::failed;
  ImGui::TextUnformatted(failed                        ? "This dump can't be shown"
                         : model_ && model_->waiting() ? "Switch the unit on now"
                         : model_                      ? "Reading the dump"
                                                       : "Open a dump");
  ImGui::PopFont();
  ImGui::Spacing();
  if (failed) {
    ImGui::TextUnformatted(model_->problem().c_str());
    ImGui::Spacing();
    ImGui::TextUnformatted("It is opened by itself when the file changes.");
  } else if (model_ && model_->waiting()) {
    ImGui::TextUnformatted(
        ("Recording to " + plain::harmless(asked_.path) + ". Nothing has come yet.").c_str());
  } else if (model_) {
    ImGui::TextUnformatted(
        plain::harmless(asked_.path == "-" ? "standard input" : asked_.path).c_str());
    ImGui::ProgressBar(static_cast<float>(model_->progress()), {-1, theme.px(18)}, "");
  }
  if (!model_ || failed) {
    ImGui::TextUnformatted("Drop a dump on this window, or choose one that was opened before.");
    draw_recent(theme, w);
  }
  ImGui::PopTextWrapPos();
  ImGui::EndChild();
}

void ReplayPage::draw_recent(const Theme& theme, float width) {
  ImGui::Spacing();
  std::string chosen;
  for (const std::string& path : memory_.recent)
    if (ImGui::Button(plain::harmless(path).c_str(), {width - theme.px(20), theme.px(28)}))
      chosen = path;
  if (!chosen.empty()) open(chosen);
}

void ReplayPage::draw_dump(const Theme& theme, float width, float height) {
  const float gap = theme.px(10);
  const float head = theme.px(84);
  const float line = theme.px(height < theme.px(680) ? 128.0F : 150.0F);
  const float top = head + 2 * gap;
  const float body = height - top - line - 2 * gap;
  // The glass takes the width it needs at this height; words take the rest.
  const Settings& s = model_->account().settings;
  const float aspect = static_cast<float>(s.shape.cols * s.pitch_col_um) /
                       static_cast<float>(s.shape.rows * s.pitch_row_um);
  const float glass = std::clamp((body - theme.px(130)) * aspect + theme.px(80),
                                 std::min(theme.px(440), 0.45F * width),
                                 std::max(theme.px(441), width - theme.px(430)));
  draw_head(theme, {gap, gap, width - 2 * gap, head});
  draw_glass(theme, {gap, top, glass, body});
  const float right = glass + 2 * gap;
  // A low window keeps the words rather than the curve, until a node is chosen.
  const bool low = body < theme.px(370) && (!model_->pinned() || body < theme.px(300));
  const float history = low ? -gap : std::clamp(0.36F * body, theme.px(120), theme.px(260));
  const Area side{right, top, width - right - gap, body - history - gap};
  if (model_->touch_test() != nullptr)
    draw_touch(theme, side);
  else
    draw_side(theme, side);
  if (!low) draw_history(theme, {right, top + body - history, width - right - gap, history});
  draw_timeline(theme, {gap, top + body + gap, width - 2 * gap, line});
}

void ReplayPage::draw_head(const Theme& theme, Area area) {
  begin_area("head", area.x, area.y, area.w, area.h, true);
  const host::Diagnosis& d = model_->diagnosis();
  const host::Account& a = model_->account();
  ImDrawList& list = *ImGui::GetWindowDrawList();
  const ImVec2 low = ImGui::GetWindowPos();
  list.AddRectFilled(low, {low.x + theme.px(12), low.y + area.h}, colour_of(a.final_state));
  const float moment = std::min(theme.px(300), 0.36F * area.w);
  const float left = theme.px(26);
  ImGui::SetCursorPos({left, theme.px(8)});
  ImGui::PushTextWrapPos(area.w - moment - theme.px(10));
  // Three lines find room: a headline that would take two is set smaller.
  const std::string headline = d.causes.empty() ? "" : d.causes.front().headline;
  const float room = area.w - moment - left - theme.px(10);
  const bool long_one =
      theme.title->CalcTextSizeA(theme.title->FontSize, 1e6F, 0, headline.c_str()).x > room;
  ImGui::PushFont(long_one ? theme.strong : theme.title);
  ImGui::TextUnformatted(headline.c_str());
  ImGui::PopFont();
  ImGui::SetCursorPosX(left);
  ImGui::TextUnformatted(d.answer.c_str());
  ImGui::SetCursorPosX(left);
  ImGui::PushFont(theme.small);
  if (!model_->trouble().empty()) {
    ImGui::PushStyleColor(ImGuiCol_Text, colour::kOff);
    ImGui::TextUnformatted(model_->trouble().c_str());
    ImGui::PopStyleColor();
  } else if (model_->partly_told()) {
    ImGui::PushStyleColor(ImGuiCol_Text, colour::kWait);
    ImGui::TextUnformatted(
        fmt::format("Reading on, {:.0f} %. This is said of the first part of the dump.",
                    100.0 * model_->progress())
            .c_str());
    ImGui::PopStyleColor();
  } else if (!told_.empty()) {
    ImGui::TextUnformatted(told_.c_str());
  } else {
    ImGui::TextDisabled("%s", about_dump(a, asked_.path).c_str());
  }
  ImGui::PopFont();
  ImGui::PopTextWrapPos();
  draw_moment(theme, {area.w - moment, 0, moment, area.h});
  ImGui::EndChild();
}

void ReplayPage::draw_moment(const Theme& theme, Area area) {
  const InputState state = model_->engine().state();
  ImDrawList& list = *ImGui::GetWindowDrawList();
  const ImVec2 window = ImGui::GetWindowPos();
  const ImVec2 low{window.x + area.x, window.y};
  const ImVec2 high{low.x + area.w, low.y + area.h};
  list.AddRectFilled({low.x, low.y + 1}, {high.x - 1, high.y - 1}, pale_of(state));
  list.AddRectFilled({low.x, low.y + 1}, {low.x + theme.px(5), high.y - 1}, colour_of(state));
  const float left = area.x + theme.px(16);
  ImGui::SetCursorPos({left, theme.px(7)});
  ImGui::PushFont(theme.large);
  ImGui::Text("%.3f s", model_->now_s());
  ImGui::PopFont();
  ImGui::SetCursorPos({left, theme.px(38)});
  ImGui::PushFont(area.w < theme.px(290) ? theme.small : theme.strong);
  ImGui::TextUnformatted(plain_state(state, model_->engine().settings().policy));
  ImGui::PopFont();
  ImGui::SetCursorPos({left, theme.px(59)});
  ImGui::PushFont(theme.small);
  ImGui::TextDisabled("frame %llu of %llu%s",
                      static_cast<unsigned long long>(model_->moment().number + 1),
                      static_cast<unsigned long long>(model_->index().frames()),
                      model_->walking() ? ", reading on" : "");
  ImGui::PopFont();
}

ImVec2 ReplayPage::pixel_of_node(int row, int col) const {
  return {origin_.x + static_cast<float>(col) * step_x_,
          origin_.y + static_cast<float>(row) * step_y_};
}

ImVec2 ReplayPage::pixel_of_time(std::uint64_t at_us) const { return {x_of(at_us), strip_y_}; }

ImVec2 ReplayPage::pixel_of_sentence(std::size_t n) const {
  return n < sentence_at_.size() ? sentence_at_[n] : ImVec2{-1, -1};
}

}  // namespace bareglass::view
