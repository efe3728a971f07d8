#include "bareglass/capture/reader.hpp"

#include "readers.hpp"

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

std::unique_ptr<CaptureReader> open_capture(std::unique_ptr<ByteSource> source,
                                            const std::string& name, const OpenOptions& options) {
  check_lines(options, name);
  auto input = std::make_unique<InputBuffer>(std::move(source));
  const CaptureFormat format = options.format ? *options.format : detect_format(*input, name);
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
  }
  throw CaptureError(name, "", "expected one of the formats " + format_names());
}

std::unique_ptr<CaptureReader> open_capture(const std::string& path, const OpenOptions& options) {
  return open_capture(open_source(path), shown_name(path, "standard input"), options);
}

}  // namespace bareglass::host
