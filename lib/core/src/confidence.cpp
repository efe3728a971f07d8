#include "bareglass/core/arith.hpp"
#include "bareglass/core/lines.hpp"

namespace bareglass {

namespace {

/// Of findings of a kind on generated cases, how many were right: at a score of 0 and of 1000, in
/// units of 4 permille, a straight line between (DESIGN.md, "Confidence").
struct Share {
  std::uint8_t low, high;
};

constexpr Share kShares[] = {
    {0, 0},      // none
    {50, 248},   // held touch
    {75, 190},   // raised plateau
    {0, 200},    // lowered plateau
    {0, 245},    // border band
    {125, 246},  // two-signed conductor
    {40, 240},   // unknown
    {25, 25},    // lone node: no simulated panel has one, so all that were seen were wrong
    {185, 245},  // faint film
    {0, 240},    // drops
    {220, 245},  // open line
    {225, 245},  // cut line
    {0, 250},    // bridged lines
    {75, 250},   // raised resistance
    {75, 225},   // tail group
    {245, 245},  // intermittent line
    {0, 250},    // interference
    {0, 250},    // common mode
    {150, 150},  // weak coupling: a wet touch looks the same
    {235, 250},  // supply sag
};

Share share_of(FindingKind kind) {
  const int n = static_cast<int>(kind);
  return kShares[n < 64 ? n : (n < 128 ? n - 64 + 10 : n - 128 + 16)];
}

}  // namespace

std::int32_t score_of(std::int32_t measured, std::int32_t limit, std::int32_t sigma,
                      std::int32_t against_permille) {
  // A share of a limit of one count is large; a hundred times the limit is as clear as it gets.
  const std::int32_t size = clamp_i32(abs_i32(measured), 0, 10000000);
  const std::int32_t floor = abs_i32(limit) < 1 ? 1 : abs_i32(limit);
  const std::int32_t margin = clamp_i32(size * 100 / floor - 50, 0, 10000);  // hundredths
  const std::int32_t clear = sigma <= 0 ? 10000 : clamp_i32(size * 100 / sigma, 0, 10000);
  const std::int32_t by_limit = 1000 * margin / (margin + 50);
  const std::int32_t by_noise = 1000 * clear / (clear + 200);
  const std::int32_t both = by_limit * by_noise / 1000;
  return both * clamp_i32(against_permille, 0, 1000) / 1000;
}

std::uint16_t confidence_of(FindingKind kind, std::int32_t score) {
  const Share share = share_of(kind);
  return static_cast<std::uint16_t>((share.low * (1000 - score) + share.high * score) / 250);
}

}  // namespace bareglass
