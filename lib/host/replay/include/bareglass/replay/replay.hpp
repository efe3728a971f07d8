#pragma once
// Runs the frames of a capture through the core, as the device would have, and keeps the account.

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>

#include "bareglass/capture/reader.hpp"
#include "bareglass/core/engine.hpp"
#include "bareglass/replay/account.hpp"
#include "bareglass/replay/finger_scale.hpp"

namespace bareglass::host {

struct ReplayOptions {
  /// Settings to use; its shape, pitches, finger signal and frame period give way to what the dump
  /// says of its panel. Absent: defaults.
  std::optional<Settings> settings;
  std::optional<StartPolicy> policy;  ///< overrides the settings' and the device journal's
  std::optional<int> finger_counts;   ///< overrides the dump's
  /// The settings' finger signal is meant; false for a file that leaves it open.
  bool settings_name_finger = true;
  /// Part of a bare node's reading that a finger takes on this panel, 0.01..0.9, for dumps that do
  /// not state its signal; without it, see finger_scale.hpp.
  std::optional<double> finger_share;
  FingerHints finger_hints() const {
    const bool named = settings && settings_name_finger;
    return {finger_counts, named ? std::optional<int>(settings->finger_counts) : std::nullopt,
            finger_share};
  }
  /// When the panel was powered, on the clock of the frames, for dumps that do not say: not after
  /// the first frame. If that comes more than two seconds later, the dump does not hold the start.
  std::optional<std::uint64_t> power_up_us;
  /// Called every 4096 records with the frames replayed so far.
  std::function<void(std::uint64_t frames)> progress;
  /// Called after every frame that the core took, with the contacts it reports then (also none):
  /// while input is off there are none.
  std::function<void(View<const Contact> contacts, std::uint64_t t_us)> contacts;
  /// Called once before the first frame, with the settings as completed from the dump.
  std::function<void(const Settings& settings)> started;
};

/// Reads `reader` to its end. Throws CaptureError for what the reader finds unreadable, for a dump
/// without a frame, one that leaves open what a finger's signal is and holds differences only or
/// readings too low to tell it from, a power-up given after the first frame, a panel the core
/// cannot take (lines beyond 2..128), or settings that are out of range, each naming the place and
/// what was expected.
Account replay(CaptureReader& reader, const std::string& file, const ReplayOptions& options);

}  // namespace bareglass::host
