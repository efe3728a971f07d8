#pragma once
// The numbers of one CSV line: nearly all of the time that reading CSV takes.

#include <fmt/format.h>

#include <cstdint>
#include <limits>
#include <string_view>
#include <vector>

#include "csv_text.hpp"

namespace bareglass::host {

/// Reads numbers separated by `separator` one by one.
class Numbers {
 public:
  Numbers(std::string_view text, char separator)
      : at_(text.data()), end_(text.data() + text.size()), separator_(separator) {}

  /// False if there are no more. Throws LineProblem for what is no integer `least`..`most`.
  bool next(std::int64_t& out, std::int64_t least, std::int64_t most) {
    if (done_) return false;
    const char* start = at_;
    while (at_ != end_ && *at_ == ' ') ++at_;
    const bool negative = at_ != end_ && *at_ == '-';
    at_ += negative ? 1 : 0;
    const char* digits = at_;
    std::int64_t value = 0;
    // Eighteen digits cannot overflow; more are out of every range we read.
    while (at_ != end_ && *at_ >= '0' && *at_ <= '9' && at_ - digits < 18)
      value = 10 * value + (*at_++ - '0');
    const bool any = at_ != digits;
    while (at_ != end_ && *at_ == ' ' && separator_ != ' ') ++at_;
    out = negative ? -value : value;
    if (!any || (at_ != end_ && *at_ != separator_) || out < least || out > most)
      fail(start, least, most);
    ++index_;
    while (at_ != end_ && separator_ == ' ' && *at_ == ' ' && at_ + 1 != end_ && at_[1] == ' ')
      ++at_;
    if (at_ == end_)
      done_ = true;
    else
      ++at_;
    return true;
  }

  /// How many are left, counted by separators.
  std::size_t count_rest() const {
    if (done_) return 0;
    std::size_t n = 1;
    for (const char* c = at_; c != end_; ++c) n += *c == separator_ ? 1 : 0;
    return n;
  }

 private:
  [[noreturn]] void fail(const char* start, std::int64_t least, std::int64_t most) const {
    const char* stop = start;
    while (stop != end_ && *stop != separator_) ++stop;
    const std::string_view token(start, static_cast<std::size_t>(stop - start));
    throw LineProblem(fmt::format("value v{} is {}, expected an integer from {} to {}", index_,
                                  quoted(trimmed(token)), least, most));
  }

  const char* at_;
  const char* end_;
  char separator_;
  std::size_t index_ = 0;
  bool done_ = false;
};

/// Fills `out` with all numbers of the line, which must be `expected`. Throws LineProblem.
template <typename T>
void read_values(std::vector<T>& out, Numbers& numbers, std::size_t expected) {
  out.resize(expected);
  std::int64_t value = 0;
  for (std::size_t i = 0; i < expected; ++i) {
    if (!numbers.next(value, std::numeric_limits<T>::min(), std::numeric_limits<T>::max()))
      throw LineProblem(fmt::format("expected {} values, found {}", expected, i));
    out[i] = static_cast<T>(value);
  }
  if (const std::size_t more = numbers.count_rest(); more > 0)
    throw LineProblem(fmt::format("expected {} values, found {}", expected, expected + more));
}

}  // namespace bareglass::host
