#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "bareglass/present/heat_map.hpp"

namespace bareglass::host {

namespace {

constexpr int kWidestTerminal = 100;
constexpr int kCell = 4;
constexpr int kMargin = 5;

std::string painted(const std::string& cell, double share, bool colour) {
  if (!colour) return cell;
  const Rgb c = diverging_colour(share);
  const char* ink = std::abs(share) > 0.6 ? "97" : "30";
  return fmt::format("\x1b[48;2;{};{};{};{}m{}\x1b[0m", c.r, c.g, c.b, ink, cell);
}

std::string numbers(const HeatMap& map, bool colour) {
  const double full = full_scale_percent(map);
  std::string out(kMargin, ' ');
  for (int c = 0; c < map.shape.cols; ++c) out += fmt::format("{:>{}}", c, kCell);
  out += '\n';
  for (int r = 0; r < map.shape.rows; ++r) {
    out += fmt::format("{:>{}} ", r, kMargin - 1);
    for (int c = 0; c < map.shape.cols; ++c) {
      const int counts = map.counts[static_cast<std::size_t>(r * map.shape.cols + c)];
      const double percent = 100.0 * counts / map.finger_counts;
      const long whole = std::lround(percent);
      // The quiet part of the glass stays empty, so that the eye finds what is on it.
      const bool quiet = 2 * std::abs(counts) < map.limit;
      const std::string cell =
          quiet ? fmt::format("{:>{}}", ".", kCell) : fmt::format("{:>+{}}", whole, kCell);
      out += painted(cell, percent / full, colour);
    }
    out += '\n';
  }
  return out;
}

char sign_of(int counts, int limit) {
  if (2 * std::abs(counts) < limit) return '.';
  if (std::abs(counts) < limit) return counts > 0 ? '\'' : ',';
  return counts > 0 ? '+' : '-';
}

std::string signs(const HeatMap& map, bool colour) {
  const double full = full_scale_percent(map);
  std::string out;
  for (int r = 0; r < map.shape.rows; ++r) {
    out += fmt::format("{:>{}} ", r, kMargin - 1);
    for (int c = 0; c < map.shape.cols; ++c) {
      const int counts = map.counts[static_cast<std::size_t>(r * map.shape.cols + c)];
      out += painted(std::string(1, sign_of(counts, map.limit)),
                     100.0 * counts / map.finger_counts / full, colour);
    }
    out += '\n';
  }
  return out;
}

bool is_quiet(const HeatMap& map) {
  return std::all_of(map.counts.begin(), map.counts.end(),
                     [&](int counts) { return 2 * std::abs(counts) < map.limit; });
}

}  // namespace

std::string heat_map_terminal(const HeatMap& map, bool colour) {
  const double limit = 100.0 * map.limit / map.finger_counts;
  if (is_quiet(map))
    return fmt::format("  No node departs by half of the limit of {:.1f} % of a finger.\n", limit);
  if (map.shape.cols * kCell + kMargin <= kWidestTerminal)
    return numbers(map, colour) + fmt::format(
                                      "     In % of a finger; + as a touch, - the other way.\n"
                                      "     A dot is less than half of the limit of {:.1f} %.\n",
                                      limit);
  return signs(map, colour) +
         fmt::format(
             "     + as a touch, - the other way, beyond the limit of {:.1f} % of a finger;\n"
             "     ' and , beyond half of it; a dot is less.\n",
             limit);
}

}  // namespace bareglass::host
