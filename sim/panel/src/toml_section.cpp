#include "bareglass/panel/toml_section.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>

#include "bareglass/capture/error.hpp"
#include "bareglass/plain/harmless.hpp"

namespace bareglass::panel {

namespace {

constexpr double kFarthest = 1000.0;  // mm, of any coordinate

std::string listed(const std::vector<std::string_view>& words) {
  std::string out;
  for (std::size_t k = 0; k < words.size(); ++k)
    out += fmt::format("{}\"{}\"", k == 0 ? "" : k + 1 < words.size() ? ", " : " or ", words[k]);
  return out;
}

// An end that depends on another value can leave no room.
template <typename T>
std::string range_words(const char* what, T low, T high, const char* unit) {
  if (low > high)
    return fmt::format("other values beside it: none is left from {} on up to {}{}", low, high,
                       unit);
  return fmt::format("{} from {} to {}{}", what, low, high, unit);
}

}  // namespace

void Section::fail_at(const toml::node& node, const std::string& expected) const {
  throw host::CaptureError(file_, fmt::format("line {}", node.source().begin.line), expected);
}

void Section::fail(std::string_view key, const std::string& expected) const {
  const toml::node* node = table_.get(key);
  fail_at(node != nullptr ? *node : table_, fmt::format("{}{}: {}", name_, key, expected));
}

void Section::allow_only(const std::vector<std::string_view>& keys) const {
  for (const auto& [key, node] : table_)
    if (std::find(keys.begin(), keys.end(), key.str()) == keys.end())
      fail_at(node,
              fmt::format("{}{}: not a key here; expected {}", name_, key.str(), listed(keys)));
}

const toml::node& Section::need(std::string_view key, const std::string& expected) const {
  const toml::node* node = table_.get(key);
  if (node == nullptr)
    fail_at(table_, fmt::format("{}{}: missing; expected {}", name_, key, expected));
  return *node;
}

double Section::number(std::string_view key, double low, double high, const char* unit) const {
  const std::string expected = range_words("a number", low, high, unit);
  const toml::node& node = need(key, expected);
  const auto value = node.value<double>();
  if (!node.is_number() || !value || !(*value >= low && *value <= high))
    fail(key, "expected " + expected);
  return *value;
}

double Section::number(std::string_view key, double fallback, double low, double high,
                       const char* unit) const {
  return has(key) ? number(key, low, high, unit) : fallback;
}

std::int64_t Section::whole(std::string_view key, std::int64_t low, std::int64_t high) const {
  const std::string expected = range_words("a whole number", low, high, "");
  const auto value = need(key, expected).value_exact<std::int64_t>();
  if (!value || *value < low || *value > high) fail(key, "expected " + expected);
  return *value;
}

std::int64_t Section::whole(std::string_view key, std::int64_t fallback, std::int64_t low,
                            std::int64_t high) const {
  return has(key) ? whole(key, low, high) : fallback;
}

bool Section::flag(std::string_view key, bool fallback) const {
  if (!has(key)) return fallback;
  const auto value = table_.get(key)->value_exact<bool>();
  if (!value) fail(key, "expected true or false");
  return *value;
}

std::string Section::text(std::string_view key) const { return plain::harmless_lines(path(key)); }

std::string Section::path(std::string_view key) const {
  const auto value = need(key, "a text").value_exact<std::string>();
  if (!value || value->empty()) fail(key, "expected a text");
  return *value;
}

std::vector<std::string> Section::texts(std::string_view key) const {
  const std::string expected = "a list of texts [\"...\", ...]";
  const toml::array* list = need(key, expected).as_array();
  if (list == nullptr || list->empty()) fail(key, "expected " + expected);
  std::vector<std::string> out;
  for (const toml::node& node : *list) {
    const auto value = node.value_exact<std::string>();
    if (!value) fail_at(node, fmt::format("{}{}: expected {}", name_, key, expected));
    out.push_back(plain::harmless_lines(*value));
  }
  return out;
}

std::size_t Section::word(std::string_view key, const std::vector<std::string_view>& words) const {
  const auto value = need(key, listed(words)).value_exact<std::string>();
  const auto found = value ? std::find(words.begin(), words.end(), *value) : words.end();
  if (found == words.end()) fail(key, "expected " + listed(words));
  return static_cast<std::size_t>(found - words.begin());
}

std::size_t Section::word(std::string_view key, std::size_t fallback,
                          const std::vector<std::string_view>& words) const {
  return has(key) ? word(key, words) : fallback;
}

double Section::capacitance(std::string_view key, double fallback) const {
  if (!has(key)) return fallback;
  const toml::node& node = *table_.get(key);
  if (node.value_exact<std::string>() == std::optional<std::string>("earthed"))
    return std::numeric_limits<double>::infinity();
  const auto value = node.value<double>();
  if (!node.is_number() || !value || !(*value >= 0.0 && *value <= 1e6))
    fail(key, "expected a number from 0 to 1000000 (pF) or \"earthed\"");
  return *value;
}

field::Point Section::point_in(const toml::node& node, std::string_view key) const {
  const toml::array* pair = node.as_array();
  field::Point out;
  bool good = pair != nullptr && pair->size() == 2;
  if (good) {
    const auto nan = std::numeric_limits<double>::quiet_NaN();
    out = {(*pair)[0].value<double>().value_or(nan), (*pair)[1].value<double>().value_or(nan)};
    good = out.x >= -kFarthest && out.x <= kFarthest && out.y >= -kFarthest && out.y <= kFarthest;
  }
  if (!good)
    fail_at(node, fmt::format("{}{}: expected [x, y], each from -{} to {} mm", name_, key,
                              kFarthest, kFarthest));
  return out;
}

field::Point Section::point(std::string_view key) const {
  return point_in(need(key, "[x, y] in mm"), key);
}

std::vector<field::Point> Section::points(std::string_view key, std::size_t fewest) const {
  constexpr std::size_t kMost = 500;
  const std::string expected = fmt::format("{} to {} points [[x, y], ...] in mm", fewest, kMost);
  const toml::array* list = need(key, expected).as_array();
  if (list == nullptr || list->size() < fewest || list->size() > kMost)
    fail(key, "expected " + expected);
  std::vector<field::Point> out;
  for (const toml::node& node : *list) out.push_back(point_in(node, key));
  return out;
}

Section Section::table(std::string_view key) const {
  static const toml::table kEmpty;
  const std::string name = fmt::format("{}{}.", name_, key);
  if (!has(key)) return {kEmpty, file_, name};
  const toml::table* inner = table_.get(key)->as_table();
  if (inner == nullptr) fail(key, fmt::format("expected a table [{}]", key));
  return {*inner, file_, name};
}

std::vector<Section> Section::tables(std::string_view key) const {
  std::vector<Section> out;
  if (!has(key)) return out;
  const toml::array* list = table_.get(key)->as_array();
  if (list == nullptr || !list->is_homogeneous(toml::node_type::table))
    fail(key, fmt::format("expected tables [[{}]]", key));
  for (const toml::node& node : *list) {
    const std::string name = fmt::format("{} {}: ", key, out.size() + 1);
    out.emplace_back(*node.as_table(), file_, name);
  }
  return out;
}

}  // namespace bareglass::panel
