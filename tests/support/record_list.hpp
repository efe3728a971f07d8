#pragma once
// A capture that never was a file: records handed to a reader, one by one.

#include <utility>
#include <vector>

#include "bareglass/capture/reader.hpp"

namespace bareglass::support {

class RecordListReader : public host::CaptureReader {
 public:
  explicit RecordListReader(std::vector<host::Record> records) : records_(std::move(records)) {}

  bool next(host::Record& out) override {
    if (at_ >= records_.size()) return false;
    out = records_[at_++];
    return true;
  }
  host::CaptureFormat format() const override { return host::CaptureFormat::frames; }
  std::uint64_t bytes_read() const override { return at_; }
  std::optional<std::uint64_t> bytes_total() const override { return records_.size(); }

  host::CaptureStats& mutable_stats() { return stats_; }

 private:
  std::vector<host::Record> records_;
  std::size_t at_ = 0;
};

/// A panel of 5 mm pitch that is scanned every 8 ms; `finger_counts` 0 says nothing of a finger.
inline host::PanelDescription described_panel(int rows, int cols, int finger_counts) {
  host::PanelDescription panel;
  panel.rows = rows;
  panel.cols = cols;
  panel.pitch_row_mm = panel.pitch_col_mm = 5.0;
  panel.finger_counts = finger_counts;
  panel.frame_period_us = 8000;
  return panel;
}

}  // namespace bareglass::support
