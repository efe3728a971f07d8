#pragma once
// The writers behind create_capture.

#include <memory>

#include "bareglass/capture/output_file.hpp"
#include "bareglass/capture/writer.hpp"

namespace bareglass::host {

using Output = std::unique_ptr<OutputFile>;

std::unique_ptr<CaptureWriter> make_stream_writer(Output output);
std::unique_ptr<CaptureWriter> make_csv_writer(Output output);
/// For npy, td16, td08, tu16, tu08. Throws CaptureWriteError if npy is to go to no regular file.
std::unique_ptr<CaptureWriter> make_matrix_writer(Output output, CaptureFormat format);

}  // namespace bareglass::host
