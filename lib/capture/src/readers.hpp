#pragma once
// The readers behind open_capture. Each takes a buffer of which nothing has been consumed yet.

#include <memory>
#include <string>

#include "bareglass/capture/reader.hpp"
#include "input_buffer.hpp"
#include "table/folder.hpp"

namespace bareglass::host {

using Buffer = std::unique_ptr<InputBuffer>;

std::unique_ptr<CaptureReader> make_stream_reader(Buffer input, const std::string& name,
                                                  const OpenOptions& options);
std::unique_ptr<CaptureReader> make_csv_reader(Buffer input, const std::string& name,
                                               const OpenOptions& options);
/// Throws CaptureError if rows, columns or frame period are missing, or the source's size is known
/// and no whole number of frames (unless lenient).
std::unique_ptr<CaptureReader> make_touch_reader(Buffer input, const std::string& name,
                                                 CaptureFormat format, const OpenOptions& options);
/// Throws CaptureError for a head that is damaged or of another shape or type than we read.
std::unique_ptr<CaptureReader> make_npy_reader(Buffer input, const std::string& name,
                                               const OpenOptions& options);

/// What lies under the text of a table.
struct TableBeneath {
  std::shared_ptr<InputBuffer> input;    ///< of text that was not UTF-8
  std::shared_ptr<FolderPlaces> places;  ///< of a folder
  std::vector<std::string> said;         ///< what is known of it so far
};

/// Reads the first lines. Throws CaptureError if they do not tell how the table is to be read.
std::unique_ptr<CaptureReader> make_table_reader(Buffer input, const std::string& name,
                                                 const OpenOptions& options, TableBeneath beneath);

/// Tells the format from the content; may wait for up to 64 KiB. A name that ends in .td16, .td08,
/// .tu16 or .tu08 counts if the content is neither a stream nor an array. Throws CaptureError if it
/// can't.
CaptureFormat detect_format(InputBuffer& input, const std::string& name, const TableOptions& table);

/// Throws CaptureError that names every option that is missing, unless none is.
void refuse_open_questions(const TableReading& reading, const char* what, const std::string& name);

/// Text for places.
std::string at_byte(std::uint64_t offset);
std::string at_line(std::uint64_t line);

}  // namespace bareglass::host
