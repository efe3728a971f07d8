#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <set>

#include "bareglass/advise/next_steps.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/settings/toml_text.hpp"

namespace bareglass::host {

namespace {

std::optional<Cause> cause_named(const std::string& name) {
  for (int i = 0; i < kCauseCount; ++i)
    if (name == name_of(static_cast<Cause>(i))) return static_cast<Cause>(i);
  return std::nullopt;
}

std::optional<StepWord> word_named(const std::string& name) {
  static const std::map<std::string, StepWord> kWords = {
      {"input_on", StepWord::input_on},
      {"input_on_bare", StepWord::input_on_bare},
      {"input_was_off", StepWord::input_was_off},
      {"from_power_up", StepWord::from_power_up},
      {"factory_reference", StepWord::factory_reference},
      {"device_reported_off", StepWord::device_reported_off},
      {"docked", StepWord::docked},
      {"undocked", StepWord::undocked}};
  const auto it = kWords.find(name);
  return it == kWords.end() ? std::nullopt : std::optional<StepWord>(it->second);
}

bool is_name(const std::string& text) {
  const auto is_part = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
  };
  return !text.empty() && std::all_of(text.begin(), text.end(), is_part);
}

class StepsReader {
 public:
  explicit StepsReader(std::string file) : file_(std::move(file)) {}

  StepTable read(const toml::table& root) {
    allow_only(root, {"groups", "step", "caution"});
    if (root.contains("groups")) read_groups(*root.get("groups"));
    for (const toml::table* step : tables(root, "step")) table_.rules.push_back(rule(*step));
    for (const toml::table* caution : tables(root, "caution")) {
      allow_only(*caution, {"text"});
      table_.cautions.push_back(sentence(*caution, "text"));
    }
    every_cause_has_a_step(root);
    return std::move(table_);
  }

 private:
  [[noreturn]] void fail(const toml::node& node, const std::string& expected) const {
    throw CaptureError(file_, line_of(node), "expected " + expected);
  }

  void allow_only(const toml::table& table, const std::set<std::string>& known) const {
    for (const auto& [key, node] : table)
      if (known.count(std::string(key.str())) == 0)
        fail(node, fmt::format("one of the keys {} instead of \"{}\"", fmt::join(known, ", "),
                               key.str()));
  }

  std::vector<const toml::table*> tables(const toml::table& root, const std::string& key) const {
    const toml::node* node = root.get(key);
    const toml::array* list = node == nullptr ? nullptr : node->as_array();
    if (list == nullptr || list->empty() || !list->is_array_of_tables())
      fail(node == nullptr ? static_cast<const toml::node&>(root) : *node,
           fmt::format("at least one table [[{}]]", key));
    std::vector<const toml::table*> out;
    for (const toml::node& item : *list) out.push_back(item.as_table());
    return out;
  }

  std::vector<std::pair<std::string, const toml::node*>> words(const toml::node& node,
                                                               const std::string& key) const {
    const toml::array* list = node.as_array();
    if (list == nullptr || list->empty())
      fail(node, fmt::format("a list of words for \"{}\"", key));
    std::vector<std::pair<std::string, const toml::node*>> out;
    for (const toml::node& item : *list) {
      const auto word = item.value_exact<std::string>();
      if (!word) fail(item, fmt::format("a list of words for \"{}\"", key));
      out.emplace_back(*word, &item);
    }
    return out;
  }

  std::string sentence(const toml::table& table, const std::string& key) const {
    const toml::node* node = table.get(key);
    if (node == nullptr) fail(table, fmt::format("the key \"{}\" with a sentence", key));
    const auto text = node->value_exact<std::string>();
    if (!text || text->empty()) fail(*node, fmt::format("a sentence for \"{}\"", key));
    return plain::harmless_lines(*text);
  }

  std::string optional_sentence(const toml::table& table, const std::string& key) const {
    return table.contains(key) ? sentence(table, key) : std::string();
  }

  void read_groups(const toml::node& node) {
    const toml::table* table = node.as_table();
    if (table == nullptr) fail(node, "a table [groups]");
    for (const auto& [key, list] : *table) {
      const std::string name(key.str());
      if (cause_named(name))
        fail(list, fmt::format("a group's name that no cause has, not \"{}\"", name));
      for (const auto& [word, item] : words(list, name)) {
        const std::optional<Cause> cause = cause_named(word);
        if (!cause) fail(*item, fmt::format("the name of a cause instead of \"{}\"", word));
        groups_[name].push_back(*cause);
      }
    }
  }

  std::vector<Cause> causes(const toml::table& table) const {
    const toml::node* node = table.get("causes");
    if (node == nullptr) fail(table, "the key \"causes\" with names of causes or groups");
    std::vector<Cause> out;
    for (const auto& [word, item] : words(*node, "causes")) {
      const auto group = groups_.find(word);
      const std::optional<Cause> cause = cause_named(word);
      if (group == groups_.end() && !cause)
        fail(*item, fmt::format("the name of a cause or a group instead of \"{}\"", word));
      if (cause)
        out.push_back(*cause);
      else
        out.insert(out.end(), group->second.begin(), group->second.end());
    }
    return out;
  }

  std::vector<StepWord> conditions(const toml::table& table, const std::string& key) const {
    std::vector<StepWord> out;
    if (!table.contains(key)) return out;
    for (const auto& [word, item] : words(*table.get(key), key)) {
      const std::optional<StepWord> known = word_named(word);
      if (!known)
        fail(*item, fmt::format("input_on, input_on_bare, input_was_off, from_power_up, "
                                "factory_reference, device_reported_off, docked or undocked in "
                                "\"{}\" instead of \"{}\"",
                                key, word));
      out.push_back(*known);
    }
    return out;
  }

  bool only(const toml::table& table) const {
    const toml::node* node = table.get("only");
    if (node == nullptr) return false;
    const auto flag = node->value_exact<bool>();
    if (!flag) fail(*node, "true or false for \"only\"");
    return *flag;
  }

  double confidence(const toml::table& table) const {
    const toml::node* node = table.get("confidence_from");
    if (node == nullptr) return 0.0;
    const auto number = node->value<double>();
    if (!number || !(*number >= 0.0 && *number <= 1.0))
      fail(*node, "a number from 0 to 1 for \"confidence_from\"");
    return *number;
  }

  std::string name(const toml::table& table) {
    const std::string name = sentence(table, "name");
    if (!is_name(name)) fail(*table.get("name"), "letters, digits and underscores for \"name\"");
    if (!names_.insert(name).second)
      fail(*table.get("name"), fmt::format("a name used once, but \"{}\" was there before", name));
    return name;
  }

  StepRule rule(const toml::table& t) {
    allow_only(t, {"name", "causes", "text", "tools", "caution", "stop", "when", "unless", "only",
                   "confidence_from"});
    StepRule r;
    r.step.name = name(t);
    r.step.text = sentence(t, "text");
    r.step.tools = optional_sentence(t, "tools");
    r.step.caution = optional_sentence(t, "caution");
    r.step.stop = optional_sentence(t, "stop");
    r.causes = causes(t);
    r.when = conditions(t, "when");
    r.unless = conditions(t, "unless");
    r.only = only(t);
    r.confidence_from = confidence(t);
    return r;
  }

  void every_cause_has_a_step(const toml::table& root) const {
    for (int i = 0; i < kCauseCount; ++i) {
      const Cause cause = static_cast<Cause>(i);
      const auto is_about = [&](const StepRule& r) {
        return std::find(r.causes.begin(), r.causes.end(), cause) != r.causes.end();
      };
      if (std::none_of(table_.rules.begin(), table_.rules.end(), is_about))
        fail(root, fmt::format("at least one step for the cause \"{}\"", name_of(cause)));
    }
  }

  std::string file_;
  StepTable table_;
  std::map<std::string, std::vector<Cause>> groups_;
  std::set<std::string> names_;
};

constexpr char kWhat[] = "a table of steps in TOML";

}  // namespace

StepTable read_steps(const std::string& path) {
  return StepsReader(path).read(read_toml(path, kWhat));
}

StepTable parse_steps(const std::string& text, const std::string& file) {
  return StepsReader(file).read(parse_toml(text, file, kWhat));
}

}  // namespace bareglass::host
