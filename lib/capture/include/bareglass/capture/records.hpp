#pragma once
// What a capture holds, whatever format it came in: a run of records in the order of the file.

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "bareglass/core/journal.hpp"

namespace bareglass::host {

/// Largest panel a capture may hold, lines each way. (The core takes fewer: bareglass::kMaxLines.)
constexpr int kMaxCaptureLines = 1024;

/// What a unit says of itself. Zero, empty and absent mean "not known".
struct PanelDescription {
  int rows = 0;              ///< driven lines, 1..kMaxCaptureLines
  int cols = 0;              ///< sensed lines, likewise
  double pitch_row_mm = 0;   ///< between the centres of neighbouring rows, mm
  double pitch_col_mm = 0;   ///< between the centres of neighbouring columns, mm
  int finger_counts = 0;     ///< peak difference of the panel's nominal finger, counts
  bool counts_rise = false;  ///< a finger raises the counts
  std::uint32_t frame_period_us = 0;
  std::string unit_id;
  std::string panel_name;
  std::string firmware;
  std::optional<std::uint32_t> raw_max;  ///< greatest count the converter can give
  /// When the panel was powered, on the clock of the frames. A later description with another value
  /// means that the unit started again.
  std::optional<std::uint64_t> power_up_us;
};

enum class FrameKind { raw, difference };

/// One scan. Only the vector of its kind is filled, row-major; the other is empty.
struct FrameRecord {
  FrameKind kind = FrameKind::raw;
  std::uint32_t sequence = 0;  ///< counts scans, wraps; formats without one are counted from 0
  std::uint64_t t_us = 0;      ///< microseconds on the controller's clock
  int rows = 0, cols = 0;
  std::vector<std::uint16_t> raw;        ///< counts
  std::vector<std::int16_t> difference;  ///< counts, positive as a finger is
};

/// The bare panel as measured in the factory, counts, row-major.
struct ReferenceRecord {
  int rows = 0, cols = 0;
  std::vector<std::uint16_t> raw;
};

/// A contact as the device reported it.
struct DeviceContact {
  std::uint8_t id = 0;
  bool tip = false;
  std::int16_t x_q8 = 0, y_q8 = 0;  ///< 1/256 pitch; the centre of node 0 is 0
  std::int16_t strength = 0;        ///< counts
};

struct ContactsRecord {
  std::uint64_t t_us = 0;
  std::vector<DeviceContact> contacts;
};

/// One entry of the device's own journal; fields as in bareglass::JournalEntry.
struct JournalRecord {
  std::uint64_t t_us = 0;
  JournalCode code = JournalCode::none;  ///< may hold a number this version has no name for
  std::uint8_t row = kNoLine;            ///< kNoLine: no place
  std::uint8_t col = kNoLine;
  std::int32_t value = 0;
  std::int32_t limit = 0;
  std::uint8_t detail = 0;
};

/// Absent: the device did not say.
struct SupplyRecord {
  std::uint64_t t_us = 0;
  std::optional<int> millivolts;  ///< 0..65535
  std::optional<bool> charging;
  std::optional<bool> docked;
  std::optional<int> temperature_c10;  ///< tenths of a degree Celsius, -32768..32767
};

/// A remark, UTF-8.
struct NoteRecord {
  std::uint64_t t_us = 0;
  std::string text;
};

using Record = std::variant<PanelDescription, FrameRecord, ReferenceRecord, ContactsRecord,
                            JournalRecord, SupplyRecord, NoteRecord>;

/// Where something could not be read, and what should have stood there.
struct DamagePlace {
  std::uint64_t place = 0;  ///< byte offset from 0, or line from 1
  bool is_line = false;
  std::string expected;
};

/// What a reader met so far. Memory is bounded whatever the length of the capture.
struct CaptureStats {
  std::uint64_t packets = 0;          ///< intact packets of a frame stream
  std::uint64_t damaged_packets = 0;  ///< stretches between two zeros that hold no intact packet
  std::uint64_t lost_bytes = 0;       ///< bytes skipped because of damage
  std::uint64_t unknown_kinds = 0;    ///< intact packets of a kind this version doesn't know
  std::uint64_t unknown_keys = 0;     ///< keys skipped: unknown, or of no use in their packet
  std::uint64_t malformed_lines = 0;  ///< lines skipped (reading CSV with OpenOptions::lenient)
  /// The same of the dump that this one was made from, as its notes tell (damage_note.hpp).
  std::uint64_t source_damaged_packets = 0;
  std::uint64_t source_lost_bytes = 0;
  std::uint64_t source_malformed_lines = 0;
  std::uint64_t source_unknown_kinds = 0;

  std::uint64_t frames = 0;
  std::uint64_t sequence_gaps = 0;      ///< places where frames are missing
  std::uint64_t frames_missing = 0;     ///< how many, by their sequence numbers
  std::uint64_t sequence_restarts = 0;  ///< places where the sequence number goes back
  /// Steps of time above 1.5 frame periods; counted only where the period is known.
  std::uint64_t time_gaps = 0;
  std::uint64_t stamps_backward = 0;  ///< places where time goes back without a new power-up
  /// Frames that repeat the one before: same time stamp and sequence number, in CSV same time stamp
  /// and values.
  std::uint64_t repeated_frames = 0;

  /// The first kMaxDamagePlaces.
  std::vector<DamagePlace> damage;
  static constexpr std::size_t kMaxDamagePlaces = 16;
};

}  // namespace bareglass::host
