#pragma once
// What is said of a dump and of what was found in it; what is said of settings and of assumptions
// stands with those (setting_words.hpp, dump_words.hpp). Each function gives whole sentences, so
// that a translation can order the words its own way.

#include <cstdint>
#include <string>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/core/engine.hpp"
#include "bareglass/replay/account.hpp"
#include "bareglass/replay/dump_words.hpp"
#include "bareglass/settings/setting_words.hpp"

namespace bareglass::host {

/// Two or three words for people: "Touch at power-up".
const char* title_of(Cause cause);

}  // namespace bareglass::host

namespace bareglass::host::text {

/// Share of the panel's nominal finger signal, "97 %" or "-12 %"; one decimal below 10 %.
std::string percent(std::int32_t counts, const Settings& settings);
/// Seconds since the zero of its run; of a dump with several runs it says which: "0.360 s of run
/// 2".
std::string moment(std::uint64_t t_us, const Account& account);
/// "rows 5 to 7, columns 3 to 5" or "row 6, column 4"; lines count from 0 at the top left.
std::string lines(const Box& box);
/// "20 to 40 mm from the left, 30 to 50 mm from the top", the outer edges of the box's nodes.
std::string place_mm(const Box& box, const Settings& settings);
/// "15 mm wide, 20 mm high".
std::string size_mm(const Box& box, const Settings& settings);
/// The policy that the start was replayed with; without a power-up in the dump there is none.
std::string start_policy(const Account& account);
std::string state(InputState state);
/// One journal entry as a sentence without its time. Codes unknown to this version say their
/// number.
std::string event(const JournalEntry& entry, const Settings& settings);
/// What a cause is, one sentence that holds wherever it is found.
std::string headline(Cause cause);
/// Title of what was found: of both causes where the dump can't tell which of two it is.
std::string title(const CauseFound& found);
/// "sure"; "sure that it is one of two" where the dump can't tell which.
std::string sureness(const CauseFound& found);

/// Which moment zero_time() is.
std::string times_count_from(const Account& account);
/// How often the unit was powered up within the dump; empty if not more than once.
std::string powered_up_often(const Account& account);
/// What a picture shows; `time` as told by seconds().
std::string picture_title(DecisiveMoment::Against against, const std::string& time);

}  // namespace bareglass::host::text
