#pragma once
// Reads a capture record by record, in bounded memory. Start here to use captures:
//
//   bareglass::host::Record record;
//   auto reader = bareglass::host::open_capture("unit.frames", {});
//   while (reader->next(record)) std::visit(..., record);

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "bareglass/capture/error.hpp"
#include "bareglass/capture/formats.hpp"
#include "bareglass/capture/records.hpp"
#include "bareglass/capture/source.hpp"
#include "bareglass/capture/table.hpp"

namespace bareglass::host {

/// What the caller knows of the file. What contradicts the file is an error, but for the frame
/// period of CSV, which gives way.
struct OpenOptions {
  std::optional<CaptureFormat> format;  ///< absent: told from the content
  int rows = 0;                         ///< 0: as the file says. Needed by td16, td08, tu16, tu08,
  int cols = 0;                         ///< and by CSV without `# rows:`, `# cols:`
  /// 0: as the file says. Needed by td16, td08, tu16, tu08 and npy, which hold no time stamps.
  std::uint32_t frame_period_us = 0;
  /// What the numbers are; absent: as the file says (CSV), or by signedness (npy).
  std::optional<FrameKind> values;
  /// Skip and count what can't be read: CSV lines; the incomplete last frame of npy and td/tu.
  /// A frame stream is always read this way.
  bool lenient = false;
  /// Of a table of numbers, and of npy whose frames are no plain 16 bits.
  TableOptions table;
};

class CaptureReader {
 public:
  virtual ~CaptureReader() = default;

  /// The next record; false at the end (`out` then holds nothing of use). Buffers are reused where
  /// `out` already holds the same kind. Throws CaptureError, which names file and place, for what
  /// can't be skipped; afterwards only stats() is of use.
  virtual bool next(Record& out) = 0;

  const CaptureStats& stats() const { return stats_; }
  /// What was understood of a table of numbers or an array; empty of other formats.
  const TableReading& reading() const { return reading_; }
  virtual CaptureFormat format() const = 0;
  /// Bytes taken from the source so far, and in all where that is known.
  virtual std::uint64_t bytes_read() const = 0;
  virtual std::optional<std::uint64_t> bytes_total() const = 0;

 protected:
  CaptureStats stats_;
  TableReading reading_;
};

/// Opens `path`, "-" for standard input; a folder is a table with a file for each frame. The format
/// is told from the content where that is safe: a .npy magic, an intact packet within the first
/// 64 KiB, text that begins as our CSV does, or lines of numbers; of frames without a head, from a
/// name that ends in .td16, .td08, .tu16 or .tu08. Throws CaptureError if the file can't be opened,
/// is empty, or its format isn't certain (it then asks for the format by name), or options it needs
/// are missing.
std::unique_ptr<CaptureReader> open_capture(const std::string& path, const OpenOptions& options);

/// The same from any source; `name` stands in messages.
std::unique_ptr<CaptureReader> open_capture(std::unique_ptr<ByteSource> source,
                                            const std::string& name, const OpenOptions& options);

}  // namespace bareglass::host
