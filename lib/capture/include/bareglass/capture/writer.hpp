#pragma once
// Writes a capture record by record, in bounded memory.

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <variant>

#include "bareglass/capture/error.hpp"
#include "bareglass/capture/formats.hpp"
#include "bareglass/capture/records.hpp"

namespace bareglass::host {

/// What was given to a writer and is not in its file, because the format can't hold it.
struct WriterLosses {
  std::uint64_t descriptions = 0;
  std::uint64_t references = 0;
  std::uint64_t contacts = 0;
  std::uint64_t journal_entries = 0;
  std::uint64_t supply_states = 0;
  std::uint64_t notes = 0;
  std::uint64_t frames_other_kind = 0;   ///< npy, td, tu hold frames of one kind
  std::uint64_t frames_other_shape = 0;  ///< ... and of one shape
  bool time_stamps = false;              ///< no time stamps and sequence numbers in the format
};

class CaptureWriter {
 public:
  /// Without finish() nothing appears under the target's name, and what was written is removed.
  virtual ~CaptureWriter() = default;
  /// Throws CaptureWriteError if the output fails (disk full, closed pipe) or a value doesn't fit
  /// the format.
  virtual void write(const Record& record) = 0;
  /// Completes the file and gives it its name. Throws as write() does, or if there is nothing a
  /// file could be made of. Call once; write nothing afterwards.
  virtual void finish() = 0;

  const WriterLosses& losses() const { return losses_; }

 protected:
  WriterLosses losses_;
};

/// Creates `path`, "-" for standard output. A regular file is written under a temporary name beside
/// it and renamed by finish(); devices and pipes are written directly. npy needs a regular file,
/// since its head counts the frames. A closed pipe is an error, never a signal.
/// Throws CaptureWriteError if that is impossible.
std::unique_ptr<CaptureWriter> create_capture(const std::string& path, CaptureFormat format);

}  // namespace bareglass::host
