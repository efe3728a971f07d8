// The right-hand side of the bench: device, lines, settings, what is kept.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "bareglass/view/bench_page.hpp"
#include "bareglass/view/bench_words.hpp"
#include "bareglass/view/plain_words.hpp"

namespace bareglass::view {

namespace {

constexpr const char* kPolicies[] = {"lock: off until the next power-up",
                                     "wait: until the glass is bare", "adopt: take it as it is",
                                     "service: ask for a technician"};

std::string earth_words(double pf) {
  if (std::isinf(pf)) return "earthed";
  if (pf >= 50.0) return fmt::format("held by a person ({:.0f} pF)", pf);
  return fmt::format("on an insulator ({:.0f} pF)", pf);
}

}  // namespace

void BenchPage::draw_side(const Theme& theme, Area area) {
  ImGui::SetCursorPos({area.x, area.y});
  ImGui::BeginChild("side", {area.w, area.h}, true);
  // Six tabs in a narrow window: smaller letters rather than cut-off words.
  const bool narrow = area.w < theme.px(380);
  const auto names = [&](bool begin) {
    if (!narrow) return;
    if (begin) {
      ImGui::PushFont(theme.small);
      ImGui::PushStyleVar(ImGuiStyleVar_FramePadding, {theme.px(3), theme.px(4)});
      ImGui::PushStyleVar(ImGuiStyleVar_ItemInnerSpacing, {theme.px(2), theme.px(4)});
    } else {
      ImGui::PopStyleVar(2);
      ImGui::PopFont();
    }
  };
  names(true);
  if (ImGui::BeginTabBar("tabs")) {
    if (ImGui::BeginTabItem("Device")) {
      names(false);
      draw_device();
      names(true);
      ImGui::EndTabItem();
    }
    if (ImGui::BeginTabItem("Lines")) {
      names(false);
      draw_faults(theme);
      names(true);
      ImGui::EndTabItem();
    }
    const auto settings_flags =
        focus_ != Field::none ? ImGuiTabItemFlags_SetSelected : ImGuiTabItemFlags_None;
    if (ImGui::BeginTabItem("Settings", nullptr, settings_flags)) {
      names(false);
      draw_settings(theme);
      names(true);
      ImGui::EndTabItem();
    }
    if (ImGui::BeginTabItem("Keep")) {
      names(false);
      draw_keep(theme);
      names(true);
      ImGui::EndTabItem();
    }
    if (ImGui::TabItemButton("Lessons")) lesson_list_ = !lesson_list_;
    if (ImGui::TabItemButton("Test")) toggle_touch_test();
    ImGui::EndTabBar();
  }
  names(false);
  ImGui::EndChild();
}

void BenchPage::draw_device() {
  BenchModel& shown = bench();
  const panel::DeviceState& device = shown.surroundings();
  const bool on = shown.unit().powered();
  const float half = 0.5F * (ImGui::GetContentRegionAvail().x - 8.0F);
  if (ImGui::Button(on ? "Switch off  (P)" : "Switch on  (P)", {half, 0})) toggle_power();
  ImGui::SameLine();
  if (ImGui::Button("Off and on  (O)", {-1, 0})) attempt([&] { shown.power_cycle(); });
  bool docked = device.docked;
  if (ImGui::Checkbox("In the dock, charging  (K)", &docked)) attempt([&] { shown.dock(docked); });
  ImGui::Text("Earth: %s", earth_words(device.earth_pf).c_str());
  if (ImGui::Button("Earthed", {half, 0})) attempt([&] { shown.set_earth(panel::kConnected); });
  ImGui::SameLine();
  if (ImGui::Button("Held by a person", {-1, 0})) attempt([&] { shown.set_earth(100.0); });
  if (ImGui::Button("Dock contact loose", {half, 0})) attempt([&] { shown.set_earth(10.0); });
  ImGui::SameLine();
  if (ImGui::Button("On a plastic tray", {-1, 0})) attempt([&] { shown.set_earth(3.0); });
  auto millivolts = static_cast<int>(std::lround(device.supply_mv));
  if (ImGui::SliderInt("Battery, mV", &millivolts, 2400, 4200) &&
      millivolts != static_cast<int>(std::lround(device.supply_mv)))
    attempt([&] { shown.set_battery(millivolts); });
  bool noisy = device.charger.amplitude_v > 0.0;
  if (ImGui::Checkbox("Noise of the charger, 2 V at 249 kHz  (N)", &noisy)) toggle_charger_noise();
}

void BenchPage::draw_faults(const Theme& theme) {
  BenchModel& shown = bench();
  ImGui::TextUnformatted(
      fmt::format("At row {}, column {}, where the cross is:", row_here(), column_here()).c_str());
  const float half = 0.5F * (ImGui::GetContentRegionAvail().x - 8.0F);
  if (ImGui::Button("Cut the row here  (X)", {half, 0})) cut_here();
  ImGui::SameLine();
  if (ImGui::Button("Loosen the tail  (T)", {-1, 0})) loosen_tail_here();
  if (ImGui::Button("Join two rows  (J)", {half, 0})) bridge_here();
  ImGui::SameLine();
  if (ImGui::Button("Repair all  (H)", {-1, 0})) attempt([&] { shown.repair_all(); });
  ImGui::Separator();
  const std::vector<panel::NamedFault> faults = shown.unit().timeline().faults();
  if (faults.empty()) ImGui::TextDisabled("All lines are whole.");
  for (const panel::NamedFault& fault : faults) {
    ImGui::PushID(fault.first.c_str());
    if (ImGui::SmallButton("repair")) attempt([&] { shown.repair(fault.first); });
    ImGui::PopID();
    ImGui::SameLine();
    ImGui::PushFont(theme.small);
    ImGui::TextUnformatted(fault.first.c_str());
    ImGui::PopFont();
  }
}

void BenchPage::draw_settings(const Theme& theme) {
  BenchModel& shown = bench();
  auto policy = static_cast<int>(shown.story().policy);
  ImGui::TextUnformatted("Something on the glass at power-up:");
  ImGui::SetNextItemWidth(-1);
  if (ImGui::Combo("##policy", &policy, kPolicies, 4))
    attempt([&] { shown.set_policy(static_cast<StartPolicy>(policy)); });
  Settings limits = shown.story().thresholds;
  int touch = limits.touch_on_permille / 10;
  int surface = limits.surface_permille / 10;
  ImGui::SetNextItemWidth(-theme.px(170));
  ImGui::SliderInt("Touch from, % of a finger", &touch, 10, 80);
  if (ImGui::IsItemDeactivatedAfterEdit() ||
      (!ImGui::IsItemActive() && touch != limits.touch_on_permille / 10)) {
    limits.touch_on_permille = static_cast<std::uint16_t>(10 * touch);
    limits.touch_off_permille = static_cast<std::uint16_t>(10 * touch * 2 / 3);
    limits.surface_permille = std::min(limits.surface_permille, limits.touch_on_permille);
    attempt([&] { shown.set_thresholds(limits); });
  }
  ImGui::SetNextItemWidth(-theme.px(170));
  ImGui::SliderInt("Object from, % of a finger", &surface, 6, 30);
  if (ImGui::IsItemDeactivatedAfterEdit()) {
    limits.surface_permille = static_cast<std::uint16_t>(10 * surface);
    attempt([&] { shown.set_thresholds(limits); });
  }
  bool reference = shown.story().factory_reference;
  if (ImGui::Checkbox("Has a factory reference", &reference))
    attempt([&] { shown.set_factory_reference(reference); });
  const double glass = shown.story().panel.layers.front().thickness_mm;
  ImGui::TextUnformatted(fmt::format("Cover glass {:.1f} mm:", glass).c_str());
  for (const double mm : {0.7, 1.1, 2.0, 3.0}) {
    ImGui::SameLine();
    if (ImGui::SmallButton(fmt::format("{:.1f}", mm).c_str())) use_glass(mm);
  }
  draw_panel_fields();
  ImGui::TextDisabled("A change begins a new story with the same things.");
}

void BenchPage::draw_panel_fields() {
  const panel::Scenario& story = bench().story();
  const float button = ImGui::CalcTextSize("Open").x + 2 * ImGui::GetStyle().FramePadding.x;
  const float gap = ImGui::GetStyle().ItemSpacing.x;
  const float field = 0.5F * (ImGui::GetContentRegionAvail().x - button - 3 * gap -
                              ImGui::CalcTextSize("Rows Columns").x);
  if (rows_wanted_ == 0) rows_wanted_ = story.setup.rows;
  if (columns_wanted_ == 0) columns_wanted_ = story.setup.columns;
  const auto flags = ImGuiInputTextFlags_EnterReturnsTrue;
  ImGui::AlignTextToFramePadding();
  ImGui::TextUnformatted("Rows");
  ImGui::SameLine();
  if (focus_ == Field::rows) ImGui::SetKeyboardFocusHere();
  ImGui::SetNextItemWidth(field);
  // A number counts as it is typed: with Tab one goes on to the next field.
  const auto entered = [] {
    return ImGui::IsItemDeactivated() &&
           ImGui::IsKeyPressed(ImGui::GetKeyIndex(ImGuiKey_Enter), false);
  };
  ImGui::InputInt("##rows", &rows_wanted_, 0, 0);
  bool use = entered();
  ImGui::SameLine();
  ImGui::TextUnformatted("Columns");
  ImGui::SameLine();
  ImGui::SetNextItemWidth(field);
  ImGui::InputInt("##columns", &columns_wanted_, 0, 0);
  use = entered() || use;
  ImGui::SameLine();
  use = ImGui::Button("Use", {-1, 0}) || use;
  if (use) use_size(rows_wanted_, columns_wanted_);
  if (focus_ == Field::panel_file) ImGui::SetKeyboardFocusHere();
  ImGui::SetNextItemWidth(ImGui::GetContentRegionAvail().x - button - gap);
  bool open = ImGui::InputTextWithHint("##panel", "panel file; empty: the built-in panel",
                                       panel_file_.data(), panel_file_.size(), flags);
  ImGui::SameLine();
  open = ImGui::Button("Open", {-1, 0}) || open;
  if (open) use_panel_file(panel_file_.data());
  focus_ = Field::none;
}

void BenchPage::use_size(int rows, int columns) {
  rows_wanted_ = columns_wanted_ = 0;
  attempt([&] {
    if (rows < 2 || rows > 128 || columns < 2 || columns > 128)
      throw std::invalid_argument(fmt::format(
          "A panel has 2 to 128 rows and columns; {} rows and {} columns were asked for.", rows,
          columns));
    end_touch_test();
    bench().set_size(rows, columns);
  });
}

void BenchPage::use_glass(double mm) {
  attempt_later("The field under this glass is solved; the first time takes some seconds.",
                [this, mm] { bench().set_glass(mm); });
}

void BenchPage::use_panel_file(const std::string& file) {
  attempt_later(
      "The field of this panel is solved; the first time takes some seconds.", [this, file] {
        end_touch_test();
        bench().set_panel(file);
        told_ = file.empty() ? "This is the built-in panel." : "This is the panel of " + file;
        told_for_s_ = 6.0;
      });
}

void BenchPage::draw_keep(const Theme& theme) {
  BenchModel& shown = bench();
  if (ImGui::Button(shown.recording() ? "End the recording  (Ctrl+R)" : "Record a dump  (Ctrl+R)",
                    {-1, 0}))
    toggle_recording();
  if (ImGui::Button("Save the scene as a scenario  (Ctrl+S)", {-1, 0})) save_scene();
  ImGui::PushFont(theme.small);
  ImGui::PushTextWrapPos(0.0F);
  ImGui::TextDisabled(
      "A dump holds what the unit would send, with the truth as notes; 'bareglass explain' reads "
      "it. A scenario plays the same story again, frame for frame.");
  ImGui::PopTextWrapPos();
  ImGui::PopFont();
}

void BenchPage::draw_journal(const Theme& theme, Area area) {
  ImGui::SetCursorPos({area.x, area.y});
  ImGui::BeginChild("journal", {area.w, area.h}, true);
  ImGui::PushFont(theme.strong);
  ImGui::TextUnformatted("What the device decided");
  ImGui::PopFont();
  ImGui::PushFont(theme.small);
  const Engine& device = bench().unit().device();
  const Journal& journal = device.journal();
  constexpr std::uint32_t kShown = 8;
  const std::uint32_t first =
      std::max(journal.first(), journal.end() > kShown ? journal.end() - kShown : 0);
  ImGui::PushTextWrapPos(0.0F);
  for (std::uint32_t n = journal.end(); n-- > first;) {
    const JournalEntry& entry = journal.at(n);
    ImGui::TextUnformatted(fmt::format("{:.2f} s  {}", static_cast<double>(entry.t_us) * 1e-6,
                                       plain_event(entry, device.settings()))
                               .c_str());
  }
  ImGui::PopTextWrapPos();
  ImGui::PopFont();
  ImGui::EndChild();
}

}  // namespace bareglass::view
