#include <cmath>
#include <initializer_list>
#include <sstream>
#include <string_view>

#include "bareglass/field/panel_spec.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/plain/toml_guard.hpp"

namespace bareglass::field {

namespace {

/// One table of the file, and how to complain about it.
class Section {
 public:
  Section(const toml::table& table, std::string file, std::string name)
      : table_(table), file_(std::move(file)), name_(std::move(name)) {}

  [[noreturn]] void fail(const toml::node* where, const std::string& what) const {
    const auto line =
        (where != nullptr ? *where : static_cast<const toml::node&>(table_)).source().begin.line;
    throw PanelError(file_ + ":" + std::to_string(line) + ": " + what);
  }

  void allow_only(std::initializer_list<std::string_view> keys) const {
    for (const auto& [key, value] : table_) {
      bool known = false;
      std::string list;
      for (const std::string_view k : keys) {
        known = known || key.str() == k;
        list += (list.empty() ? "" : ", ") + std::string(k);
      }
      if (!known) fail(&value, name_ + std::string(key.str()) + " is not a key; expected " + list);
    }
  }

  const toml::node& need(std::string_view key, const char* expected) const {
    const toml::node* node = table_.get(key);
    if (node == nullptr)
      fail(nullptr, name_ + std::string(key) + " is missing; expected " + expected);
    return *node;
  }

  double number(std::string_view key, double low, double high, const char* unit) const {
    std::ostringstream range;
    range << "a number from " << low << " to " << high << unit;
    const toml::node& node = need(key, range.str().c_str());
    const auto value = node.value<double>();
    if (!node.is_number() || !value || !(*value >= low && *value <= high))
      fail(&node, name_ + std::string(key) + " must be " + range.str());
    return *value;
  }

  std::string text(std::string_view key) const {
    const toml::node& node = need(key, "a text");
    const auto value = node.value<std::string>();
    if (!node.is_string() || value->empty())
      fail(&node, name_ + std::string(key) + " must be a text");
    return plain::harmless(*value);
  }

  Section table(std::string_view key, const char* expected) const {
    const toml::node& node = need(key, expected);
    if (!node.is_table()) fail(&node, name_ + std::string(key) + " must be " + expected);
    return {*node.as_table(), file_, name_ + std::string(key) + "."};
  }

  bool has(std::string_view key) const { return table_.contains(key); }
  const std::string& file() const { return file_; }

 private:
  const toml::table& table_;
  std::string file_;
  std::string name_;
};

std::vector<Layer> read_layers(const Section& root) {
  constexpr std::size_t kFewest = 2;
  constexpr std::size_t kMost = 12;
  const char* expected = "2 to 12 [[layer]] tables, from the cover glass down to the display";
  const toml::node& node = root.need("layer", expected);
  const toml::array* array = node.as_array();
  if (array == nullptr || array->size() < kFewest || array->size() > kMost ||
      !array->is_homogeneous(toml::node_type::table))
    root.fail(&node, std::string("layer must be ") + expected);
  std::vector<Layer> layers;
  for (const toml::node& entry : *array) {
    const Section layer(*entry.as_table(), root.file(),
                        "layer " + std::to_string(layers.size() + 1) + ": ");
    layer.allow_only({"name", "thickness_mm", "permittivity"});
    layers.push_back({layer.text("name"), layer.number("thickness_mm", 0.01, 50.0, " mm"),
                      layer.number("permittivity", 1.0, 200.0, " (relative)")});
  }
  return layers;
}

/// Index of the layer that the section's key `under` names.
int read_under(const Section& section, const char* key, const std::vector<Layer>& layers) {
  const std::string name = section.text("under");
  std::string names;
  // The lowest layer is left out: electrodes cannot lie on the display plane itself.
  for (std::size_t i = 0; i + 1 < layers.size(); ++i) {
    if (layers[i].name == name) return static_cast<int>(i);
    names += (i > 0 ? ", " : "") + layers[i].name;
  }
  section.fail(&section.need("under", "a layer"),
               std::string(key) + ".under must name a layer above the lowest: " + names);
}

Lines read_lines(const Section& root, const char* key, const std::vector<Layer>& layers) {
  const Section lines = root.table(key, "a table with pitch_mm, width_mm and under");
  lines.allow_only({"pitch_mm", "width_mm", "under"});
  Lines out;
  out.pitch_mm = lines.number("pitch_mm", 1.0, 20.0, " mm");
  out.width_mm = lines.number("width_mm", 0.1, out.pitch_mm - 0.05, " mm (0.05 below the pitch)");
  out.under = read_under(lines, key, layers);
  return out;
}

Diamonds read_diamonds(const Section& root, const std::vector<Layer>& layers) {
  const Section table =
      root.table("diamonds",
                 "a table with pitch_mm, gap_mm, neck_mm, bridge_mm, insulator_um, "
                 "insulator_permittivity and under");
  table.allow_only({"pitch_mm", "gap_mm", "neck_mm", "bridge_mm", "insulator_um",
                    "insulator_permittivity", "under"});
  Diamonds out;
  out.pitch_mm = table.number("pitch_mm", 2.0, 20.0, " mm");
  out.gap_mm = table.number("gap_mm", 0.05, 0.1 * out.pitch_mm, " mm (a tenth of the pitch)");
  out.neck_mm = table.number("neck_mm", 0.05, 0.2 * out.pitch_mm, " mm (a fifth of the pitch)");
  out.bridge_mm = table.number("bridge_mm", 0.01, 1.0, " mm");
  out.insulator_um = table.number("insulator_um", 0.2, 100.0, " um");
  out.insulator_permittivity = table.number("insulator_permittivity", 1.0, 200.0, " (relative)");
  out.under = read_under(table, "diamonds", layers);
  return out;
}

PanelSpec read(const toml::table& table, const std::string& file) {
  const Section root(table, file, "");
  root.allow_only({"name", "surroundings_mm", "layer", "rows", "columns", "diamonds"});
  PanelSpec panel;
  panel.name = root.text("name");
  if (root.has("surroundings_mm"))
    panel.surroundings_mm = root.number("surroundings_mm", 5.0, 1000.0, " mm");
  panel.layers = read_layers(root);
  if (root.has("diamonds")) {
    for (const char* other : {"rows", "columns"})
      if (root.has(other))
        root.fail(
            &root.need(other, "nothing"),
            std::string(other) + " must not stand beside diamonds, which are rows and columns");
    panel.set_diamonds(read_diamonds(root, panel.layers));
    return panel;
  }
  panel.rows = read_lines(root, "rows", panel.layers);
  panel.columns = read_lines(root, "columns", panel.layers);
  if (panel.rows.under <= panel.columns.under) {
    const Section rows = root.table("rows", "a table");
    rows.fail(
        &rows.need("under", "a layer"),
        "rows.under must name a layer below the one of columns.under: the stripes lie on top");
  }
  return panel;
}

}  // namespace

PanelSpec parse_panel(const std::string& text, const std::string& file) {
  try {
    return read(plain::parse_toml(text, file), file);
  } catch (const plain::TomlError& error) {
    const std::string line = error.line() > 0 ? ":" + std::to_string(error.line()) : std::string();
    throw PanelError(file + line + ": expected a panel file in TOML: " + error.what());
  }
}

PanelSpec load_panel(const std::string& path) {
  std::string text;
  try {
    text = plain::read_toml_text(path);
  } catch (const plain::TomlError& error) {
    throw PanelError(path + ": " + error.what() + "; expected a panel file (TOML)");
  }
  return parse_panel(text, path);
}

}  // namespace bareglass::field
