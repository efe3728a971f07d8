#include "table/times.hpp"

#include <cmath>
#include <string>

namespace bareglass::host {

namespace {

/// Takes `digits` digits from the front; false if they are not there.
bool take_digits(std::string_view& text, int digits, std::int64_t& out) {
  out = 0;
  if (text.size() < static_cast<std::size_t>(digits)) return false;
  for (int i = 0; i < digits; ++i) {
    const char c = text[static_cast<std::size_t>(i)];
    if (c < '0' || c > '9') return false;
    out = 10 * out + (c - '0');
  }
  text.remove_prefix(static_cast<std::size_t>(digits));
  return true;
}

bool take_sign(std::string_view& text, std::string_view any_of) {
  if (text.empty() || any_of.find(text.front()) == std::string_view::npos) return false;
  text.remove_prefix(1);
  return true;
}

/// Days since 1970-01-01 in the Gregorian calendar: the algorithm of counting years from March.
std::int64_t days_of(std::int64_t year, std::int64_t month, std::int64_t day) {
  const std::int64_t y = month <= 2 ? year - 1 : year;
  const std::int64_t era = y / 400;
  const std::int64_t of_era = y - era * 400;
  const std::int64_t of_year = (153 * (month > 2 ? month - 3 : month + 9) + 2) / 5 + day - 1;
  return era * 146097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468;
}

struct Stamp {
  bool date = false, clock = false;
  std::int64_t us = 0;
};

bool take_date(std::string_view& text, Stamp& out) {
  std::string_view left = text;
  std::int64_t year = 0, month = 0, day = 0;
  if (!take_digits(left, 4, year) || !take_sign(left, "-/") || !take_digits(left, 2, month) ||
      !take_sign(left, "-/") || !take_digits(left, 2, day))
    return false;
  if (month < 1 || month > 12 || day < 1 || day > 31) return false;
  out.date = true;
  out.us += days_of(year, month, day) * 86'400'000'000;
  text = left;
  return true;
}

/// The digits after the decimal sign, as microseconds.
std::int64_t take_fraction(std::string_view& text) {
  std::int64_t us = 0;
  std::int64_t unit = 100'000;
  for (; !text.empty() && text.front() >= '0' && text.front() <= '9'; text.remove_prefix(1)) {
    us += unit * (text.front() - '0');
    unit /= 10;
  }
  return us;
}

bool take_offset(std::string_view& text, Stamp& out) {
  if (text.empty() || text == "Z" || text == "z") return true;
  const bool west = text.front() == '-';
  std::int64_t hours = 0, minutes = 0;
  if (!take_sign(text, "+-") || !take_digits(text, 2, hours)) return false;
  take_sign(text, ":");
  if (!text.empty() && !take_digits(text, 2, minutes)) return false;
  const std::int64_t us = (hours * 60 + minutes) * 60'000'000;
  out.us += west ? us : -us;
  return text.empty();
}

bool take_clock(std::string_view text, Stamp& out) {
  std::int64_t hours = 0, minutes = 0, seconds = 0;
  if (!take_digits(text, 2, hours) || !take_sign(text, ":") || !take_digits(text, 2, minutes))
    return false;
  if (take_sign(text, ":") && !take_digits(text, 2, seconds)) return false;
  if (hours > 24 || minutes > 59 || seconds > 60) return false;
  out.us += ((hours * 60 + minutes) * 60 + seconds) * 1'000'000;
  if (take_sign(text, ".,")) out.us += take_fraction(text);
  out.clock = true;
  return out.date ? take_offset(text, out) : text.empty();
}

bool stamp_in(std::string_view text, Stamp& out) {
  if (!take_date(text, out)) return take_clock(text, out);
  if (text.empty()) return true;
  return take_sign(text, "T t") && take_clock(text, out);
}

}  // namespace

CellLook time_look(std::string_view text) {
  Stamp stamp;
  if (!stamp_in(text, stamp)) return CellLook::word;
  return stamp.date && stamp.clock ? CellLook::stamp
         : stamp.date              ? CellLook::date
                                   : CellLook::clock;
}

std::int64_t stamp_us(std::string_view text) {
  Stamp stamp;
  stamp_in(text, stamp);
  return stamp.us;
}

double microseconds_in(TimeForm form) {
  switch (form) {
    case TimeForm::nanoseconds:
      return 1e-3;
    case TimeForm::microseconds:
      return 1.0;
    case TimeForm::milliseconds:
      return 1e3;
    case TimeForm::seconds:
      return 1e6;
    default:
      return 0.0;
  }
}

const char* time_words(TimeForm form) {
  switch (form) {
    case TimeForm::none:
      return "no time";
    case TimeForm::nanoseconds:
      return "nanoseconds";
    case TimeForm::microseconds:
      return "microseconds";
    case TimeForm::milliseconds:
      return "milliseconds";
    case TimeForm::seconds:
      return "seconds";
    case TimeForm::frames:
      return "a count of frames";
    case TimeForm::stamp:
      return "date and time";
    case TimeForm::clock:
      return "the time of day";
  }
  return "";
}

std::optional<TimeForm> time_unit_of(std::string_view word) {
  const auto is = [word](std::initializer_list<std::string_view> names) {
    for (const std::string_view name : names)
      if (word == name) return true;
    return false;
  };
  if (is({"ns", "nsec", "nanoseconds"})) return TimeForm::nanoseconds;
  if (is({"us", "usec", "microsec", "microseconds"})) return TimeForm::microseconds;
  if (is({"ms", "msec", "millisec", "millis", "milliseconds"})) return TimeForm::milliseconds;
  if (is({"s", "sec", "secs", "second", "seconds"})) return TimeForm::seconds;
  return std::nullopt;
}

}  // namespace bareglass::host
