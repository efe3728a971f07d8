#pragma once
// One table of a scenario or lesson file, and how to complain about it.

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bareglass/field/footprint.hpp"
#include "bareglass/plain/toml_guard.hpp"

namespace bareglass::panel {

/// Every reader throws host::CaptureError naming file, line and key unless the value is what it
/// should be.
class Section {
 public:
  /// `name` leads the keys in messages: "" for the root, "front_end." for a table.
  Section(const toml::table& table, std::string file, std::string name)
      : table_(table), file_(std::move(file)), name_(std::move(name)) {}

  bool has(std::string_view key) const { return table_.contains(key); }
  void allow_only(const std::vector<std::string_view>& keys) const;

  double number(std::string_view key, double low, double high, const char* unit) const;
  double number(std::string_view key, double fallback, double low, double high,
                const char* unit) const;
  std::int64_t whole(std::string_view key, std::int64_t low, std::int64_t high) const;
  std::int64_t whole(std::string_view key, std::int64_t fallback, std::int64_t low,
                     std::int64_t high) const;
  bool flag(std::string_view key, bool fallback) const;
  /// Made harmless (plain/harmless.hpp) but for its lines: names and sentences are shown.
  std::string text(std::string_view key) const;
  /// As it stands: the name of a file.
  std::string path(std::string_view key) const;
  /// At least one text.
  std::vector<std::string> texts(std::string_view key) const;
  /// Index into `words`.
  std::size_t word(std::string_view key, const std::vector<std::string_view>& words) const;
  std::size_t word(std::string_view key, std::size_t fallback,
                   const std::vector<std::string_view>& words) const;
  /// pF, or the word "earthed": infinity.
  double capacitance(std::string_view key, double fallback) const;
  field::Point point(std::string_view key) const;
  std::vector<field::Point> points(std::string_view key, std::size_t fewest) const;

  /// A table that may be missing: empty then.
  Section table(std::string_view key) const;
  std::vector<Section> tables(std::string_view key) const;

  [[noreturn]] void fail(std::string_view key, const std::string& expected) const;

 private:
  const toml::node& need(std::string_view key, const std::string& expected) const;
  [[noreturn]] void fail_at(const toml::node& node, const std::string& expected) const;
  field::Point point_in(const toml::node& node, std::string_view key) const;

  const toml::table& table_;
  std::string file_;
  std::string name_;
};

}  // namespace bareglass::panel
