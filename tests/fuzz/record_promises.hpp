#pragma once
// What every reader keeps: records that hang together and counts that add up.

#include <memory>

#include "bareglass/capture/reader.hpp"
#include "fuzz_bytes.hpp"

namespace bareglass::fuzz {

class RecordPromises {
 public:
  void operator()(const host::PanelDescription& p) {
    lines(p.rows, p.cols);
    require(p.pitch_row_mm >= 0 && p.pitch_col_mm >= 0, "pitches are not negative");
    require(p.finger_counts >= 0, "finger counts are not negative");
    for (const std::string* text : {&p.unit_id, &p.panel_name, &p.firmware}) is_utf8(*text);
  }
  void operator()(const host::FrameRecord& f) {
    lines(f.rows, f.cols);
    const auto nodes = static_cast<std::size_t>(f.rows) * static_cast<std::size_t>(f.cols);
    const bool raw = f.kind == host::FrameKind::raw;
    require(f.raw.size() == (raw ? nodes : 0) && f.difference.size() == (raw ? 0 : nodes),
            "a frame holds as many values of its kind as it has nodes");
    ++frames_;
  }
  void operator()(const host::ReferenceRecord& r) {
    lines(r.rows, r.cols);
    require(r.raw.size() == static_cast<std::size_t>(r.rows) * static_cast<std::size_t>(r.cols),
            "a reference holds as many values as it has nodes");
  }
  void operator()(const host::ContactsRecord&) {}
  void operator()(const host::JournalRecord&) {}
  void operator()(const host::SupplyRecord& s) {
    require(!s.millivolts || (*s.millivolts >= 0 && *s.millivolts <= 65535), "millivolts: 16 bits");
  }
  void operator()(const host::NoteRecord& n) { is_utf8(n.text); }

  std::uint64_t frames() const { return frames_; }

 private:
  static void lines(int rows, int cols) {
    require(
        rows >= 1 && rows <= host::kMaxCaptureLines && cols >= 1 && cols <= host::kMaxCaptureLines,
        "panels have 1 to 1024 lines each way");
  }
  static void is_utf8(std::string_view text) {
    while (!text.empty()) {
      const plain::CodePoint p = plain::first_code_point(text);
      require(p.good, "texts of a capture are UTF-8");
      text.remove_prefix(p.bytes);
    }
  }
  std::uint64_t frames_ = 0;
};

inline void require_counts(const host::CaptureReader& reader, std::size_t size,
                           std::uint64_t frames) {
  const host::CaptureStats& s = reader.stats();
  require(s.frames == frames, "every frame is counted once");
  require(s.damage.size() <= host::CaptureStats::kMaxDamagePlaces, "places of damage are bounded");
  for (const host::DamagePlace& place : s.damage)
    require_harmless_line(plain::harmless(place.expected));
  require(reader.bytes_read() <= size, "no more bytes are taken than there are");
  require(s.lost_bytes <= size, "no more bytes are lost than there are");
}

/// Reads a capture to its end, or to the error that it may end in.
inline void read_all(std::unique_ptr<host::ByteSource> source, std::size_t size,
                     const host::OpenOptions& options) {
  try {
    const auto reader = host::open_capture(std::move(source), "f\x1B", options);
    RecordPromises promises;
    host::Record record;
    while (reader->next(record)) std::visit([&](const auto& r) { promises(r); }, record);
    require_counts(*reader, size, promises.frames());
  } catch (const host::CaptureError& e) {
    require_harmless_line(e.what());
    require(!e.expected().empty(), "an error says what was expected");
  }
}

}  // namespace bareglass::fuzz
