#include "bareglass/view/replay_story.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bareglass/view/plain_words.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::view {

namespace {

// The steps of a chain of causes; the rest is detail that the timeline shows.
bool is_step(JournalCode code) {
  switch (code) {
    case JournalCode::sampled:
    case JournalCode::frames_missing:
    case JournalCode::finding_began:
      return false;
    default:
      return true;
  }
}

// The decision outweighs what is entered beside it at the same moment.
int weight(JournalCode code) {
  switch (code) {
    case JournalCode::input_off:
    case JournalCode::service_entered:
      return 4;
    case JournalCode::waiting:
    case JournalCode::adopted:
      return 3;
    case JournalCode::input_on:
      return 2;
    case JournalCode::glass_not_bare:
    case JournalCode::phantom_held_back:
    case JournalCode::finding_began:
      return 1;
    default:
      return 0;
  }
}

// What comes in runs: said once for the run.
bool is_trouble(JournalCode code) {
  return code == JournalCode::frame_saturated || code == JournalCode::stamp_backward ||
         code == JournalCode::wrong_shape || code == JournalCode::regions_overflow ||
         code == JournalCode::findings_overflow || code == JournalCode::lines_overflow ||
         code == JournalCode::stamp_ahead || code == JournalCode::frames_unwatched ||
         code == JournalCode::frames_unread || code == JournalCode::sequence_back;
}

}  // namespace

std::vector<StorySentence> tell_story(const host::Account& account, const DumpIndex& index) {
  std::vector<StorySentence> out;
  int best = 0;
  std::size_t decisive = 0;
  JournalCode before = JournalCode::none;
  std::uint64_t more = 0;
  const auto end_run = [&] {
    if (more > 0) out.back().text += fmt::format(" And {} more times after it.", more);
    more = 0;
  };
  for (const Mark& mark : index.marks()) {
    if (mark.kind != Mark::Kind::entry || !is_step(mark.entry.code)) continue;
    const JournalEntry& e = mark.entry;
    // On a dump that starts midway the replay's own power-up is not an event of the device.
    if (account.kind != host::DumpKind::from_power_up &&
        (e.code == JournalCode::power_up || e.code == JournalCode::settled))
      continue;
    // A noisy line must not bury the chain under one sentence said a hundred times.
    if (e.code == before && is_trouble(e.code)) {
      ++more;
      continue;
    }
    end_run();
    before = e.code;
    const bool at_decision = e.t_us == account.decisive.t_us;
    if (out.size() >= kMostSentences && !(at_decision && weight(e.code) > best)) {
      before = JournalCode::none;
      continue;
    }
    StorySentence sentence;
    sentence.at_us = mark.at_us;
    sentence.time = host::text::moment(e.t_us, account);
    sentence.text = plain_event(e, account.settings);
    if (e.row != kNoLine && e.col != kNoLine) sentence.place = Box{e.row, e.row, e.col, e.col};
    out.push_back(std::move(sentence));
    if (at_decision && weight(e.code) > best) {
      best = weight(e.code);
      decisive = out.size();
    }
  }
  end_run();
  if (decisive > 0) out[decisive - 1].decisive = true;
  return out;
}

std::string words_of(const Mark& mark, const host::Account& account) {
  switch (mark.kind) {
    case Mark::Kind::damage:
      return fmt::format("Damage in the dump: {} packet{} could not be read.", mark.amount,
                         mark.amount == 1 ? "" : "s");
    case Mark::Kind::gap:
      return fmt::format("{} frame{} missing.", mark.amount, mark.amount == 1 ? " is" : "s are");
    case Mark::Kind::entry:
      break;
  }
  if (mark.entry.code == JournalCode::frames_missing) return {};
  return plain_event(mark.entry, account.settings);
}

bool is_decision(const Mark& mark) {
  return mark.kind == Mark::Kind::entry && weight(mark.entry.code) >= 2;
}

}  // namespace bareglass::view
