#pragma once
// Why input is off, as a chain of sentences, each with its moment and place.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"
#include "bareglass/view/dump_index.hpp"

namespace bareglass::view {

struct StorySentence {
  std::uint64_t at_us = 0;
  std::string time;          ///< "0.340 s"
  std::string text;          ///< one sentence
  std::optional<Box> place;  ///< one node, if the event has a place
  bool decisive = false;     ///< the decision that the answer speaks of
};

/// At most kMostSentences, the decisive one always among them.
constexpr std::size_t kMostSentences = 200;
std::vector<StorySentence> tell_story(const host::Account& account, const DumpIndex& index);

/// What a tick of the timeline says; empty for entries that no one needs to see there.
std::string words_of(const Mark& mark, const host::Account& account);
/// True for decisions on input, which the timeline marks more strongly.
bool is_decision(const Mark& mark);

}  // namespace bareglass::view
