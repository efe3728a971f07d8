// The other files that are read: units.csv and solved kernels.

#include "bareglass/capture/error.hpp"
#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/panel_spec.hpp"
#include "bareglass/fleet/units_file.hpp"
#include "memory_file.hpp"

namespace bareglass::fuzz {
namespace {

void units(const std::uint8_t* data, std::size_t size) {
  const MemoryFile file(data, size);
  try {
    for (const host::UnitRow& row : host::read_units(file.path())) {
      require(!row.unit.empty() && !row.ward.empty() && row.date.size() == 10,
              "a row holds what it has to");
      require_harmless_line(row.unit + row.ward + row.date);
    }
  } catch (const host::CaptureError& e) {
    require_harmless_line(e.what());
    require(e.file() == file.path() && !e.place().empty(), "an error names file and place");
  }
}

// FNV-1a as the format says, so that a text gets past its checksum.
std::string with_checksum(std::string text) {
  std::uint64_t hash = 14695981039346656037ULL;
  for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  char line[40];
  std::snprintf(line, sizeof line, "checksum %llx\n", static_cast<unsigned long long>(hash));
  return text + line;
}

void kernels(const std::string& text) {
  try {
    field::parse_kernels(text, "x.kernels");
  } catch (const field::PanelError& e) {
    require(std::string(e.what()).rfind("x.kernels", 0) == 0, "an error names its file");
  }
}

}  // namespace
}  // namespace bareglass::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bareglass::fuzz;
  if (size == 0) return 0;
  const std::string text(reinterpret_cast<const char*>(data + 1), size - 1);
  if (data[0] % 3 == 0) units(data + 1, size - 1);
  if (data[0] % 3 == 1) kernels(text);
  if (data[0] % 3 == 2) kernels(with_checksum(text));
  return 0;
}
