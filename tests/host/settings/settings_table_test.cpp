// Reading, marking and the table of settings speak of the same fields.
#include "bareglass/settings/settings_table.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <string>
#include <type_traits>

#include "bareglass/present/report.hpp"
#include "bareglass/settings/settings_file.hpp"
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
  EXPECT_EQ(fields, 35);
}

// Reports that are kept name the settings by this mark.
TEST(TableOfSettings, MarkOfTheDefaultsStaysWhatItWas) {
  EXPECT_EQ(settings_mark(Settings{}), 1034134042u);
}

/// Sets the field of that name, if it can hold the value.
bool put(Settings& s, SettingsField field, std::int64_t value) {
  bool held = false;
  for_each_setting(s, [&](const char*, const char* key, auto& there) {
    using T = std::decay_t<decltype(there)>;
    if (std::string(key) != name_of(field)) return;
    if constexpr (!std::is_same_v<T, bool>) {
      there = static_cast<T>(value);
      held = static_cast<std::int64_t>(there) == value;
    }
  });
  return held;
}

// The ranges that messages name are the ones that `validate` keeps, at both ends.
TEST(SettingsRanges, AreThoseOfTheCore) {
  constexpr int kLast = static_cast<int>(SettingsField::clear_ms);
  for (int n = static_cast<int>(SettingsField::shape) + 1; n <= kLast; ++n) {
    const auto field = static_cast<SettingsField>(n);
    SCOPED_TRACE(name_of(field));
    Settings valid;
    valid.shape = {16, 10};
    ASSERT_EQ(validate(valid), SettingsField::none);
    const SettingRange range = range_of(field, valid);
    const auto wrong_with = [&](std::int64_t value) {
      Settings s = valid;
      return put(s, field, value) && validate(s) == field;
    };
    Settings s = valid;
    EXPECT_TRUE(put(s, field, range.low));
    EXPECT_TRUE(put(s, field, range.high));
    EXPECT_FALSE(wrong_with(range.low));
    EXPECT_FALSE(wrong_with(range.high));
    if (range.low > 0) {
      EXPECT_TRUE(wrong_with(range.low - 1));
    }
    if (put(s, field, range.high + 1)) {
      EXPECT_TRUE(wrong_with(range.high + 1));
    }
    if (range.or_zero) {
      EXPECT_FALSE(wrong_with(0));
    }
  }
}

TEST(SettingsRanges, AreToldInWords) {
  Settings s;
  EXPECT_EQ(range_text(range_of(SettingsField::track_ms, s)), "0 or from 100 to 600000");
  EXPECT_EQ(range_text(range_of(SettingsField::touch_off_permille, s)),
            "from 20 to 300 (touch_on_permille)");
  // Where two other settings cross, it says so instead of "from 60 to 50".
  s.touch_on_permille = 50;
  EXPECT_EQ(range_text(range_of(SettingsField::surface_permille, s)),
            "from 60 (quiet_permille) to 50 (touch_on_permille), which no value is: change the "
            "settings named first");
}

}  // namespace
}  // namespace bareglass::host
