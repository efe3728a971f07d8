#include <fmt/format.h>

#include "bareglass/capture/crc32c_fast.hpp"
#include "bareglass/present/report.hpp"
#include "bareglass/settings/settings_table.hpp"

namespace bareglass::host {

std::uint32_t settings_mark(const Settings& s) {
  std::string all;
  for_each_setting(s, [&](const char*, const char* key, auto value) {
    all += fmt::format("{}={};", key, static_cast<std::int64_t>(value));
  });
  return crc32c_fast(0, reinterpret_cast<const std::uint8_t*>(all.data()), all.size());
}

}  // namespace bareglass::host
