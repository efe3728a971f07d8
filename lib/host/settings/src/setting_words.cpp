#include "bareglass/settings/setting_words.hpp"

#include <fmt/format.h>

#include "bareglass/settings/settings_table.hpp"

namespace bareglass::host::text {

std::string policy(StartPolicy p) {
  switch (p) {
    case StartPolicy::lock:
      return "lock";
    case StartPolicy::wait:
      return "wait";
    case StartPolicy::adopt:
      return "adopt";
    case StartPolicy::service:
      return "service";
  }
  return "unknown";
}

std::string wrong_setting(SettingsField field, const Settings& s) {
  if (field == SettingsField::shape)
    return fmt::format("expected a panel of 2 to {} rows and columns, but it has {} x {}",
                       kMaxLines, s.shape.rows, s.shape.cols);
  return fmt::format("expected \"{}\" {}", name_of(field), range_text(range_of(field, s)));
}

}  // namespace bareglass::host::text
