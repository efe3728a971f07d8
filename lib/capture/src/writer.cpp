#include "bareglass/capture/writer.hpp"

#include "writers.hpp"

namespace bareglass::host {

std::unique_ptr<CaptureWriter> create_capture(const std::string& path, CaptureFormat format) {
  auto output = std::make_unique<OutputFile>(path);
  switch (format) {
    case CaptureFormat::frames:
      return make_stream_writer(std::move(output));
    case CaptureFormat::csv:
      return make_csv_writer(std::move(output));
    case CaptureFormat::npy:
    case CaptureFormat::td16:
    case CaptureFormat::td08:
    case CaptureFormat::tu16:
    case CaptureFormat::tu08:
      return make_matrix_writer(std::move(output), format);
    case CaptureFormat::table:
      break;
  }
  throw CaptureWriteError(path, "", "expected one of the formats " + written_format_names());
}

}  // namespace bareglass::host
