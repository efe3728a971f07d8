#pragma once
// Names of the capture formats.

#include <optional>
#include <string>
#include <string_view>

namespace bareglass::host {

/// The td/tu formats are the Linux kernel's V4L2 touch formats ("Touch Formats", Linux media
/// documentation): headerless frames of 16-bit little-endian or 8-bit samples, t for touch,
/// d for delta (signed differences), u for unsigned raw counts.
/// `table` is any other text of numbers; it is read, never written.
enum class CaptureFormat { frames, csv, npy, td16, td08, tu16, tu08, table };

/// "frames", "csv", ... as used on the command line.
std::string_view format_name(CaptureFormat format);

/// One line that explains the format to a reader.
std::string_view format_explanation(CaptureFormat format);

/// The inverse of format_name; nothing for any other name.
std::optional<CaptureFormat> format_of_name(std::string_view name);

/// "frames, csv, npy, td16, td08, tu16, tu08, table".
std::string format_names();
/// Those that can be written.
std::string written_format_names();

}  // namespace bareglass::host
