// What the bench is made of, and what is kept of it.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "bareglass/capture/error.hpp"
#include "bareglass/capture/output_file.hpp"
#include "bareglass/view/bench_model.hpp"
#include "bench_events.hpp"

namespace bareglass::view {

using panel::Action;
using panel::Event;

// The same things lie there from the beginning; what was still to come in the old story is not.
panel::Scenario BenchModel::told_anew() const {
  panel::Scenario out = *story_;
  out.events.clear();
  out.story = story_told;
  const panel::DeviceState now = surroundings();
  out.device = now;
  out.device.charger = {};
  out.device.ripple = {};
  for (std::size_t k = 0; k < out.things.size(); ++k)
    restore_thing(out.events, out, k, {}, unit_->timeline().thing(k));
  restore_lines(out.events, {}, unit_->timeline().faults());
  restore_device(out.events, out.device, now);
  if (!unit_->powered()) out.events.push_back(device_event("power_off", Action::power_off, 0.0));
  return out;
}

void BenchModel::change(std::string label, const std::function<void(panel::Scenario&)>& edit) {
  if (drag_thing_) end_drag();
  Act done;
  done.label = std::move(label);
  const auto before = std::make_shared<panel::Scenario>(told_anew());
  const auto after = std::make_shared<panel::Scenario>(*before);
  edit(*after);
  come_to(after);
  done.story_before = before;
  done.story_after = after;
  remember(std::move(done));
}

void BenchModel::set_policy(StartPolicy policy) {
  change("start policy", [&](panel::Scenario& s) { s.policy = policy; });
}

void BenchModel::set_thresholds(const Settings& thresholds) {
  change("thresholds", [&](panel::Scenario& s) { s.thresholds = thresholds; });
}

void BenchModel::set_glass(double mm) {
  change("cover glass", [&](panel::Scenario& s) {
    s.panel.layers.front().thickness_mm = std::clamp(mm, 0.3, 10.0);
  });
}

void BenchModel::set_panel(const std::string& file) {
  change("panel", [&](panel::Scenario& s) {
    if (file.empty()) {
      s.panel = field::reference_panel();
    } else {
      try {
        s.panel = field::load_panel(file);
      } catch (const field::PanelError& e) {
        throw host::CaptureError(file, "", fmt::format("expected a panel file; {}", e.what()));
      }
    }
    s.panel_path = file;
  });
}

void BenchModel::set_size(int rows, int columns) {
  change("number of lines", [&](panel::Scenario& s) {
    s.setup.rows = std::clamp(rows, 2, 128);
    s.setup.columns = std::clamp(columns, 2, 128);
    const double scan_us = s.setup.rows * s.setup.front_end.row_time_us;
    s.frame_period_us = std::max(s.frame_period_us, static_cast<std::uint32_t>(std::ceil(scan_us)));
    // Damage to lines that are no longer there goes with them.
    const auto gone = [&](const Event& e) {
      if (e.action != Action::fault) return false;
      const int own = e.fault.of_rows ? s.setup.rows : s.setup.columns;
      const int crossed = e.fault.of_rows ? s.setup.columns : s.setup.rows;
      return e.fault.last >= own || e.fault.at >= crossed;
    };
    s.events.erase(std::remove_if(s.events.begin(), s.events.end(), gone), s.events.end());
  });
}

void BenchModel::set_factory_reference(bool there) {
  change("factory reference", [&](panel::Scenario& s) { s.factory_reference = there; });
}

void BenchModel::begin_anew(std::uint64_t seed) {
  change("new story", [&](panel::Scenario& s) { s.setup.seed = seed; });
}

void BenchModel::load(panel::Scenario story, std::string label) {
  change(std::move(label), [&](panel::Scenario& s) { s = std::move(story); });
}

void BenchModel::record(const std::string& path) {
  stop_recording();
  recording_problem_.clear();
  recorded_frames_ = 0;
  writer_ = host::create_capture(path, host::CaptureFormat::frames);
  const bool from_power_up = unit_->t_us() == 0;
  unit_->announce([this](const host::Record& r) { send(r); }, from_power_up);
  unit_->listen([this](const host::Record& r) { send(r); });
}

// A full disk must not stop the bench: the recording ends, and what was wrong is kept for the page.
void BenchModel::send(const host::Record& record) {
  if (!writer_) return;
  try {
    writer_->write(record);
    if (std::holds_alternative<host::FrameRecord>(record)) ++recorded_frames_;
  } catch (const host::CaptureError& e) {
    recording_problem_ = e.what();
    writer_.reset();
  }
}

void BenchModel::stop_recording() {
  if (unit_) unit_->listen({});
  if (!writer_) return;
  const std::unique_ptr<host::CaptureWriter> writer = std::move(writer_);
  writer->finish();
}

std::string BenchModel::scene_text(const std::string& folder) const {
  panel::Scenario out = *story_;
  out.story = story_told;
  // Half a frame more, so that no rounding loses the last one.
  out.duration_s = std::max(0.1, now_s() + 0.5e-6 * story_->frame_period_us);
  std::string panel_file;
  if (!story_->panel_path.empty()) {
    const std::filesystem::path panel = std::filesystem::absolute(story_->panel_path);
    const std::filesystem::path beside = folder.empty() ? panel : panel.lexically_relative(folder);
    panel_file = (beside.empty() ? panel : beside).string();
  }
  return scenario_text(out, panel_file);
}

void BenchModel::save_scene(const std::string& path) const {
  constexpr double kLongest_s = 3600.0;
  if (now_s() >= kLongest_s)
    throw host::CaptureError(path, "",
                             fmt::format("expected a story of less than {} s, but it is {:.0f} s "
                                         "long; begin a new story",
                                         kLongest_s, now_s()));
  const std::filesystem::path folder = std::filesystem::absolute(path).parent_path();
  host::OutputFile file(path);
  file.write(scene_text(folder.lexically_normal().string()));
  file.finish();
}

}  // namespace bareglass::view
