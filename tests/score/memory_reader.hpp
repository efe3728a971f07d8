#pragma once
// Records in memory read as a capture.

#include <utility>
#include <vector>

#include "bareglass/host/capture/reader.hpp"

namespace bareglass::score {

class MemoryReader : public host::CaptureReader {
 public:
  explicit MemoryReader(std::vector<host::Record> records) : records_(std::move(records)) {}

  bool next(host::Record& out) override {
    if (next_ == records_.size()) return false;
    out = records_[next_++];
    if (std::holds_alternative<host::FrameRecord>(out)) ++stats_.frames;
    return true;
  }
  host::CaptureFormat format() const override { return host::CaptureFormat::frames; }
  std::uint64_t bytes_read() const override { return next_; }
  std::optional<std::uint64_t> bytes_total() const override { return records_.size(); }

 private:
  std::vector<host::Record> records_;
  std::size_t next_ = 0;
};

}  // namespace bareglass::score
