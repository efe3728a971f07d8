// Reading, marking and the table of settings speak of the same fields.
#include "bareglass/host/settings_table.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <string>
#include <type_traits>

#include "bareglass/host/report.hpp"
#include "bareglass/host/settings_file.hpp"
#include "support/temporary_path.hpp"

namespace bareglass::host {
namespace {

/// Another value that is within every range.
template <typename T>
T other_value(T value) {
  if constexpr (std::is_same_v<T, StartPolicy>)
    return StartPolicy::wait;
  else if constexpr (std::is_same_v<T, bool>)
    return !value;
  else
    return static_cast<T>(value + 1);
}

template <typename T>
std::string as_toml(T value) {
  if constexpr (std::is_same_v<T, StartPolicy>)
    return "\"wait\"";
  else if constexpr (std::is_same_v<T, bool>)
    return value ? "true" : "false";
  else
    return fmt::format("{}", value);
}

TEST(TableOfSettings, EveryFieldIsReadFromItsKeyAndChangesTheMark) {
  Settings changed;
  // A file's shape is checked; the default one has none.
  changed.shape = {16, 10};
  const Settings before = changed;
  int fields = 0;
  std::set<std::string> keys;
  for_each_setting(changed, [&](const char* table, const char* key, auto& field) {
    SCOPED_TRACE(key);
    EXPECT_TRUE(keys.insert(key).second) << "the mark tells fields apart by their keys";
    const auto kept = field;
    field = other_value(field);
    EXPECT_NE(settings_mark(changed), settings_mark(before));
    const std::string path = support::temporary_path("one-setting.toml");
    std::ofstream(path) << "[panel]\nrows = " << int{changed.shape.rows}
                        << "\ncolumns = " << int{changed.shape.cols} << "\n";
    const bool of_shape = std::string(key) == "rows" || std::string(key) == "columns";
    if (!of_shape)
      std::ofstream(path, std::ios::app)
          << (std::string(table) == "panel" ? "" : fmt::format("[{}]\n", table)) << key << " = "
          << as_toml(field) << "\n";
    EXPECT_EQ(settings_mark(read_settings(path)), settings_mark(changed));
    std::filesystem::remove(path);
    field = kept;
    ++fields;
  });
  EXPECT_EQ(fields, 33);
}

// Reports that are kept name the settings by this mark.
TEST(TableOfSettings, MarkOfTheDefaultsStaysWhatItWas) {
  EXPECT_EQ(settings_mark(Settings{}), 3998935082u);
}

}  // namespace
}  // namespace bareglass::host
