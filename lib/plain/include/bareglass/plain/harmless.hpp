#pragma once
// Text that others wrote (a dump, a file's name, an argument), on its way to somebody's eyes.
//
// It is made harmless once, where it enters what people see: names and notes where a dump is turned
// into an account or a summary, everything else where a message is put together. Captures
// themselves keep their bytes, so that `convert` loses nothing. Pages and pictures, which have to
// escape their own markup anyway, pass all their words through here again; that changes nothing
// more.

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace bareglass::plain {

/// The first code point of a text.
struct CodePoint {
  std::size_t bytes = 1;    ///< how many it takes; 1 for a byte that begins none
  std::uint32_t value = 0;  ///< the code point, or that byte
  bool good = false;        ///< RFC 3629: shortest form, no surrogate, up to U+10FFFF
};

/// Precondition: `text` is not empty.
CodePoint first_code_point(std::string_view text);

/// True for what drives a terminal, turns the direction of writing or can't be seen: the code
/// points of the general categories Cc (control), Cf (format), Zl and Zp (line and paragraph
/// separator) that are not part of a script's own letters, and noncharacters. (Unicode Standard,
/// chapters 4.5 and 23; the list is from memory.)
bool is_unwelcome(std::uint32_t code_point);

/// `text` as UTF-8 in which nothing unwelcome is left: control characters and bytes that are not
/// UTF-8 become \xHH, other unwelcome code points \uHHHH or \UHHHHHHHH. What is harmless stays as
/// it is, the backslash too, so that doing it twice does no harm.
std::string harmless(std::string_view text);

/// The same with line feeds and tabs left as they are: whole texts of ours, as for a page.
std::string harmless_lines(std::string_view text);

}  // namespace bareglass::plain
