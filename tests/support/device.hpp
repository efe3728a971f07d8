#pragma once
// A unit on the bench for tests: a scene on a panel, an engine fed with its frames, and a record of
// all it said.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <stdexcept>
#include <vector>

#include "bareglass/core/engine.hpp"
#include "support/effect_scene.hpp"

namespace bareglass::support {

class Device {
 public:
  /// The settings are those of the panel, changed by `change`.
  explicit Device(const PanelSpec& spec, bool with_reference = true,
                  const std::function<void(Settings&)>& change = {})
      : scene(spec),
        storage_(std::make_unique<Storage<kMaxLines, kMaxLines>>()),
        engine(storage_->memory()),
        period_us_(spec.frame_period_us) {
    Settings settings = settings_for(spec);
    if (change) change(settings);
    if (with_reference) reference_ = scene.reference();
    configured = engine.configure(settings, {reference_.data(), reference_.size()});
  }

  void power_up() {
    engine.power_up(t_us);
    sequence = 0;
  }

  /// One scan of the scene as it is now.
  StepResult step() { return step(scene.frame()); }
  StepResult step(const std::vector<std::uint16_t>& raw) {
    if (raw.size() != static_cast<std::size_t>(scene.spec().shape.nodes()))
      throw std::logic_error("a frame of another size than the panel");
    t_us += period_us_;
    const StepResult result = engine.step({raw.data(), scene.spec().shape, ++sequence, t_us});
    take_reports();
    return result;
  }
  void run_ms(std::uint64_t ms) {
    for (const std::uint64_t end = t_us + ms * 1000; t_us < end;) step();
  }
  /// Runs until the engine is in `state`; false if that takes longer than `ms`.
  bool run_until(InputState state, std::uint64_t ms) {
    for (const std::uint64_t end = t_us + ms * 1000; t_us < end && engine.state() != state;) step();
    return engine.state() == state;
  }

  /// Entries still in the journal, oldest first.
  std::vector<JournalEntry> entries() const {
    std::vector<JournalEntry> all;
    for (std::uint32_t n = engine.journal().first(); n < engine.journal().end(); ++n)
      all.push_back(engine.journal().at(n));
    return all;
  }
  std::vector<JournalEntry> entries(JournalCode code) const {
    std::vector<JournalEntry> some;
    for (const JournalEntry& e : entries())
      if (e.code == code) some.push_back(e);
    return some;
  }

 public:
  EffectScene scene;

 private:
  std::unique_ptr<Storage<kMaxLines, kMaxLines>> storage_;
  std::vector<std::uint16_t> reference_;

 public:
  Engine engine;
  SettingsField configured = SettingsField::none;
  std::uint64_t t_us = 1000000;
  std::uint32_t sequence = 0;
  std::vector<Contact> reports;  ///< every contact of every frame so far
  int touches = 0;               ///< of these, with the tip down
  int lifts = 0;                 ///< and with the tip up
  int broken_promises = 0;       ///< a contact that vanished without a lift, or lifted unseen

 private:
  // A contact is listed in every frame from its first to the one that lifts it.
  void take_reports() {
    std::uint32_t now = 0;
    std::uint32_t seen = 0;
    for (const Contact& c : engine.contacts()) {
      reports.push_back(c);
      const std::uint32_t bit = 1u << c.id;
      seen |= bit;
      if (c.tip) now |= bit;
      if (!c.tip && !(down_ & bit)) ++broken_promises;
      c.tip ? ++touches : ++lifts;
    }
    if (down_ & ~seen) ++broken_promises;
    down_ = now;
  }

  std::uint32_t down_ = 0;  ///< ids that are down
  std::uint32_t period_us_;
};

}  // namespace bareglass::support
