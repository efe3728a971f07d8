// Reference numbers as data, and the table as text.
#include <fmt/format.h>

#include <algorithm>

#include "bareglass/panel/reference_table.hpp"
#include "bareglass/panel/toml_section.hpp"
#include "bareglass/settings/toml_text.hpp"
#include "reference_data.hpp"

namespace bareglass::panel {

namespace {

constexpr char kReferenceWhat[] = "a TOML file of reference numbers";

ReferenceRow read_row(const Section& row) {
  constexpr double kMost = 1e6;
  row.allow_only({"key", "value", "from", "to", "unit", "limit", "note", "outside"});
  ReferenceRow out;
  out.key = row.text("key");
  if (row.has("from")) {
    out.low = row.number("from", -kMost, kMost, "");
    out.high = row.number("to", out.low, kMost, "");
  } else {
    out.low = out.high = row.number("value", -kMost, kMost, "");
  }
  out.unit =
      static_cast<ReferenceRow::Unit>(row.word("unit", {"fF", "pF", "percent", "part", "points"}));
  out.limit = row.number("limit", 0.0, 0.0, kMost, "");
  if (row.has("note")) out.note = row.text("note");
  if (row.has("outside")) out.outside = row.text("outside");
  return out;
}

const char* unit_text(ReferenceRow::Unit unit) {
  constexpr const char* kTexts[] = {"fF", "pF", "%", "", "%"};
  return kTexts[static_cast<int>(unit)];
}

std::string number(double value) { return std::isnan(value) ? "-" : fmt::format("{:.2f}", value); }

}  // namespace

double ReferenceRow::bound() const {
  if (limit > 0.0) return limit;
  const double nearer = error() > 0.0 ? high : low;
  const double part = 0.03 * std::abs(nearer);
  switch (unit) {
    case Unit::ff:
      return std::abs(nearer) > 10.0 ? part : 1.0;
    case Unit::pf:
      return part;
    case Unit::percent:
      return std::max(part, 0.1);
    case Unit::part:
      return 0.03;
    case Unit::points:
      return 0.3;
  }
  return part;
}

double ReferenceRow::error() const {
  const double value = judged();
  return value - std::clamp(value, low, high);
}

ReferenceTable parse_reference(const std::string& text, const std::string& file) {
  const toml::table table = host::parse_toml(text, file, kReferenceWhat);
  const Section root(table, file, "");
  root.allow_only({"origin", "group"});
  ReferenceTable out;
  out.origin = root.text("origin");
  for (const Section& group : root.tables("group")) {
    group.allow_only({"name", "rows"});
    ReferenceGroup read;
    read.name = group.text("name");
    for (const Section& row : group.tables("rows")) read.rows.push_back(read_row(row));
    out.groups.push_back(std::move(read));
  }
  return out;
}

ReferenceTable load_reference(const std::string& path) {
  return parse_reference(host::read_toml_text(path, kReferenceWhat), path);
}

ReferenceTable built_in_reference() {
  return parse_reference(kReferenceData, "field_reference.toml");
}

std::string table_heading(const ReferenceTable& table) {
  return fmt::format(
      "Reference: {}.\nFull: this program's solution on a fine mesh. Fast: what the simulated "
      "panel uses.\nBound: 3 % above 10 fF, 1 fF below.\n\n{:<42}{:>12}{:>10}{:>10}{:>9}{:>8}\n",
      table.origin, "", "reference", "full", "fast", "off by", "bound");
}

std::string group_text(const ReferenceGroup& group) {
  std::string out = group.name + "\n";
  for (const ReferenceRow& row : group.rows) {
    const std::string reference = row.low == row.high
                                      ? fmt::format("{:g}", row.low)
                                      : fmt::format("{:g} .. {:g}", row.low, row.high);
    out += fmt::format("  {:<36}{:>13} {:<2}{:>10}{:>10}{:>9}{:>8.2f}  {}\n", row.key, reference,
                       unit_text(row.unit), number(row.full), number(row.fast), number(row.error()),
                       row.bound(), row.within() ? "within" : "OUTSIDE");
  }
  std::string said;
  for (const ReferenceRow& row : group.rows) {
    if (!row.note.empty() && row.note != said)
      out += fmt::format("    {}: {}\n", row.key, said = row.note);
    if (!row.outside.empty()) out += fmt::format("    {}: {}\n", row.key, row.outside);
  }
  return out;
}

}  // namespace bareglass::panel
