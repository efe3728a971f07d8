#pragma once
// Dumps as files and as the bytes in them.

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "bareglass/capture/writer.hpp"
#include "simulated_records.hpp"
#include "temporary_path.hpp"

namespace bareglass::support {

inline std::string file_bytes(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

inline void write_bytes(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary | std::ios::trunc) << bytes;
}

inline void append_bytes(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary | std::ios::app) << bytes;
}

/// What a unit would have sent in a shipped scenario, in a format of one's choice.
inline std::string simulated_dump(const std::string& scenario, host::CaptureFormat format) {
  const std::string path = temporary_path("simulated");
  const auto writer = host::create_capture(path, format);
  for (const host::Record& record : records_of(scenario)) writer->write(record);
  writer->finish();
  std::string bytes = file_bytes(path);
  std::filesystem::remove(path);
  return bytes;
}

}  // namespace bareglass::support
