#pragma once
// Pieces of CSV captures that reader and writer share: escaped text, numbers, `name=value` words.

#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "bareglass/capture/records.hpp"

namespace bareglass::host {

/// What is wrong with one line; the reader adds file and line number, or skips the line.
struct LineProblem : std::runtime_error {
  using std::runtime_error::runtime_error;
};

std::string_view trimmed(std::string_view text);

/// One line of printable text: what is not harmless (plain/harmless.hpp), backslashes and spaces at
/// either end become \xHH, byte by byte.
std::string escaped(std::string_view text);
/// The inverse. Other backslashes are taken as they are. Throws LineProblem unless the result is
/// UTF-8 of at most kMaxPacketText bytes.
std::string unescaped(std::string_view text);

/// `text` shortened and escaped for a message.
std::string quoted(std::string_view text);

/// The whole of `text` as a decimal integer in `least`..`most`. Throws LineProblem that names
/// `what`.
std::int64_t integer_in(std::string_view text, std::int64_t least, std::int64_t most,
                        const char* what);
std::uint64_t time_in(std::string_view text, const char* what);
/// A plain decimal number 0..most. Throws LineProblem that names `what`.
double decimal_in(std::string_view text, double most, const char* what);
/// "true" or "false".
bool flag_in(std::string_view text, const char* what);

/// Splits at spaces; no empty words.
std::vector<std::string_view> words_of(std::string_view text);

/// The lines after their key. Each throws LineProblem.
SupplyRecord supply_in(std::string_view text);
JournalRecord journal_in(std::string_view text);
ContactsRecord contacts_in(std::string_view text);
NoteRecord note_in(std::string_view text);

/// The inverse of the above.
std::string supply_text(const SupplyRecord& supply);
std::string journal_text(const JournalRecord& entry);
std::string contacts_text(const ContactsRecord& contacts);
std::string note_text(const NoteRecord& note);

}  // namespace bareglass::host
