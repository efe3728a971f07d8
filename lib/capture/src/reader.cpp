#include "bareglass/capture/reader.hpp"

#include <filesystem>

#include "readers.hpp"
#include "table/utf16.hpp"

namespace bareglass::host {

std::string at_byte(std::uint64_t offset) { return "byte " + std::to_string(offset); }

std::string at_line(std::uint64_t line) { return "line " + std::to_string(line); }

namespace {

void check_lines(const OpenOptions& options, const std::string& name) {
  if (options.rows < 0 || options.rows > kMaxCaptureLines || options.cols < 0 ||
      options.cols > kMaxCaptureLines)
    throw CaptureError(name, "",
                       "cannot hold a panel of " + std::to_string(options.rows) + " x " +
                           std::to_string(options.cols) + ", expected 1 to " +
                           std::to_string(kMaxCaptureLines) + " rows and columns");
}

}  // namespace

namespace {

std::unique_ptr<CaptureReader> open_table(Buffer input, const std::string& name,
                                          const OpenOptions& options) {
  input->fill_to(64);
  const auto order = utf16_order(input->data(), input->size());
  if (!order) return make_table_reader(std::move(input), name, options, {});
  TableBeneath beneath;
  beneath.input = std::move(input);
  beneath.said.emplace_back("text in UTF-16");
  return make_table_reader(
      std::make_unique<InputBuffer>(std::make_unique<Utf16Source>(beneath.input, *order)), name,
      options, beneath);
}

std::unique_ptr<CaptureReader> open_folder_of_tables(const std::string& path,
                                                     const OpenOptions& options) {
  FolderText folder = open_folder(path);
  TableBeneath beneath;
  beneath.places = folder.places;
  beneath.said = std::move(folder.said);
  return make_table_reader(std::make_unique<InputBuffer>(std::move(folder.source)), path, options,
                           beneath);
}

}  // namespace

std::unique_ptr<CaptureReader> open_capture(std::unique_ptr<ByteSource> source,
                                            const std::string& name, const OpenOptions& options) {
  check_lines(options, name);
  auto input = std::make_unique<InputBuffer>(std::move(source));
  const CaptureFormat format =
      options.format ? *options.format : detect_format(*input, name, options.table);
  if (!input->fill_to(1)) throw CaptureError(name, at_byte(0), "is empty, expected a capture");
  switch (format) {
    case CaptureFormat::frames:
      return make_stream_reader(std::move(input), name, options);
    case CaptureFormat::csv:
      return make_csv_reader(std::move(input), name, options);
    case CaptureFormat::npy:
      return make_npy_reader(std::move(input), name, options);
    case CaptureFormat::td16:
    case CaptureFormat::td08:
    case CaptureFormat::tu16:
    case CaptureFormat::tu08:
      return make_touch_reader(std::move(input), name, format, options);
    case CaptureFormat::table:
      return open_table(std::move(input), name, options);
  }
  throw CaptureError(name, "", "expected one of the formats " + format_names());
}

std::unique_ptr<CaptureReader> open_capture(const std::string& path, const OpenOptions& options) {
  std::error_code none;
  const bool as_table = !options.format || *options.format == CaptureFormat::table;
  if (path != "-" && as_table && std::filesystem::is_directory(path, none)) {
    check_lines(options, path);
    return open_folder_of_tables(path, options);
  }
  return open_capture(open_source(path), shown_name(path, "standard input"), options);
}

}  // namespace bareglass::host
