// The records that stand in comment lines of a CSV capture, one line each.

#include <fmt/format.h>

#include "csv_text.hpp"

namespace bareglass::host {

namespace {

/// Splits "name=value"; throws LineProblem if there is no '='.
std::pair<std::string_view, std::string_view> name_and_value(std::string_view word) {
  const std::size_t equals = word.find('=');
  if (equals == std::string_view::npos)
    throw LineProblem(fmt::format("found {}, expected name=value", quoted(word)));
  return {word.substr(0, equals), word.substr(equals + 1)};
}

[[noreturn]] void unknown_name(std::string_view name, const char* known) {
  throw LineProblem(fmt::format("found {}, expected one of {}", quoted(name), known));
}

std::int16_t int16_in(std::string_view text, const char* what) {
  return static_cast<std::int16_t>(integer_in(text, INT16_MIN, INT16_MAX, what));
}

DeviceContact contact_in(std::string_view word) {
  std::string_view part[5];
  for (int i = 0; i < 5; ++i) {
    const std::size_t comma = word.find(',');
    if ((comma == std::string_view::npos) != (i == 4))
      throw LineProblem("expected contacts as id,tip,x_q8,y_q8,strength");
    part[i] = word.substr(0, comma);
    if (i < 4) word.remove_prefix(comma + 1);
  }
  DeviceContact contact;
  contact.id = static_cast<std::uint8_t>(integer_in(part[0], 0, 255, "contact id"));
  contact.tip = integer_in(part[1], 0, 1, "tip") == 1;
  contact.x_q8 = int16_in(part[2], "x_q8");
  contact.y_q8 = int16_in(part[3], "y_q8");
  contact.strength = int16_in(part[4], "strength");
  return contact;
}

}  // namespace

SupplyRecord supply_in(std::string_view text) {
  SupplyRecord supply;
  for (const std::string_view word : words_of(text)) {
    const auto [name, value] = name_and_value(word);
    if (name == "t_us")
      supply.t_us = time_in(value, "t_us");
    else if (name == "millivolts")
      supply.millivolts = static_cast<int>(integer_in(value, 0, 65535, "millivolts"));
    else if (name == "charging")
      supply.charging = flag_in(value, "charging");
    else if (name == "docked")
      supply.docked = flag_in(value, "docked");
    else if (name == "temperature_c10")
      supply.temperature_c10 = int16_in(value, "temperature_c10");
    else
      unknown_name(name, "t_us, millivolts, charging, docked, temperature_c10");
  }
  return supply;
}

std::string supply_text(const SupplyRecord& supply) {
  std::string text = fmt::format("t_us={}", supply.t_us);
  if (supply.millivolts) text += fmt::format(" millivolts={}", *supply.millivolts);
  if (supply.charging) text += fmt::format(" charging={}", *supply.charging);
  if (supply.docked) text += fmt::format(" docked={}", *supply.docked);
  if (supply.temperature_c10) text += fmt::format(" temperature_c10={}", *supply.temperature_c10);
  return text;
}

JournalRecord journal_in(std::string_view text) {
  JournalRecord entry;
  for (const std::string_view word : words_of(text)) {
    const auto [name, value] = name_and_value(word);
    if (name == "t_us")
      entry.t_us = time_in(value, "t_us");
    else if (name == "code")
      entry.code = static_cast<JournalCode>(integer_in(value, 0, 255, "code"));
    else if (name == "row")
      entry.row = static_cast<std::uint8_t>(integer_in(value, 0, 254, "row"));
    else if (name == "col")
      entry.col = static_cast<std::uint8_t>(integer_in(value, 0, 254, "col"));
    else if (name == "value")
      entry.value = static_cast<std::int32_t>(integer_in(value, INT32_MIN, INT32_MAX, "value"));
    else if (name == "limit")
      entry.limit = static_cast<std::int32_t>(integer_in(value, INT32_MIN, INT32_MAX, "limit"));
    else if (name == "detail")
      entry.detail = static_cast<std::uint8_t>(integer_in(value, 0, 255, "detail"));
    else
      unknown_name(name, "t_us, code, row, col, value, limit, detail");
  }
  return entry;
}

std::string journal_text(const JournalRecord& entry) {
  std::string text = fmt::format("t_us={} code={}", entry.t_us, static_cast<int>(entry.code));
  if (entry.row != kNoLine) text += fmt::format(" row={}", entry.row);
  if (entry.col != kNoLine) text += fmt::format(" col={}", entry.col);
  text += fmt::format(" value={} limit={}", entry.value, entry.limit);
  if (entry.detail != 0) text += fmt::format(" detail={}", entry.detail);
  return text;
}

ContactsRecord contacts_in(std::string_view text) {
  const std::vector<std::string_view> words = words_of(text);
  if (words.empty()) throw LineProblem("expected a time stamp and contacts");
  ContactsRecord record;
  record.t_us = time_in(words[0], "time stamp");
  for (std::size_t i = 1; i < words.size(); ++i) record.contacts.push_back(contact_in(words[i]));
  return record;
}

std::string contacts_text(const ContactsRecord& record) {
  std::string text = std::to_string(record.t_us);
  for (const DeviceContact& contact : record.contacts)
    text += fmt::format(" {},{:d},{},{},{}", contact.id, contact.tip, contact.x_q8, contact.y_q8,
                        contact.strength);
  return text;
}

NoteRecord note_in(std::string_view text) {
  text = trimmed(text);
  const std::size_t space = text.find(' ');
  NoteRecord note;
  note.t_us = time_in(text.substr(0, space), "time stamp");
  if (space != std::string_view::npos) note.text = unescaped(trimmed(text.substr(space)));
  return note;
}

std::string note_text(const NoteRecord& note) {
  return std::to_string(note.t_us) + " " + escaped(note.text);
}

}  // namespace bareglass::host
