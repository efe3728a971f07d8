#pragma once
// Where a capture's bytes come from.

#include <csignal>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>

namespace bareglass::host {

class ByteSource {
 public:
  virtual ~ByteSource() = default;
  /// Waits for and gives 1..`most` bytes, or 0 at the end. Throws CaptureError if reading fails.
  virtual std::size_t read(std::uint8_t* to, std::size_t most) = 0;
  /// Bytes in all, where that is known beforehand.
  virtual std::optional<std::uint64_t> size() const { return std::nullopt; }
};

/// Opens a file, a device, or standard input for "-". Throws CaptureError for what can't be opened
/// and for a directory. Once `*stop` is not zero, as a signal handler may set it, the source is at
/// its end; the signal also ends a read that waits.
std::unique_ptr<ByteSource> open_source(const std::string& path,
                                        const volatile std::sig_atomic_t* stop = nullptr);

/// The name under which messages speak of `path`: itself, or `dash` for "-".
std::string shown_name(const std::string& path, const char* dash);

}  // namespace bareglass::host
