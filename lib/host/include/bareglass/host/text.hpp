#pragma once
// Every sentence a person reads, in one place. Each function gives whole sentences, so that a
// translation can order the words its own way.

#include <cstdint>
#include <string>

#include "bareglass/core/engine.hpp"
#include "bareglass/host/account.hpp"
#include "bareglass/host/diagnosis.hpp"

namespace bareglass::host::text {

/// Share of the panel's nominal finger signal, "97 %" or "-12 %"; one decimal below 10 %.
std::string percent(std::int32_t counts, const Settings& settings);
/// Seconds since the power-up (or since the first frame if none is known), "0.360 s".
std::string seconds(std::uint64_t t_us, std::uint64_t zero_us);
/// Seconds since the zero of its run; of a dump with several runs it says which: "0.360 s of run
/// 2".
std::string moment(std::uint64_t t_us, const Account& account);
/// "rows 5 to 7, columns 3 to 5" or "row 6, column 4"; lines count from 0 at the top left.
std::string lines(const Box& box);
/// "20 to 40 mm from the left, 30 to 50 mm from the top", the outer edges of the box's nodes.
std::string place_mm(const Box& box, const Settings& settings);
/// "15 mm wide, 20 mm high".
std::string size_mm(const Box& box, const Settings& settings);
/// Name of a start policy: "lock", "wait", "adopt" or "service".
std::string policy(StartPolicy policy);
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

std::string assumed_pitch(const Settings& settings);
/// What 100 % of a finger is and where that comes from.
std::string finger(const FingerScale& finger);
/// The same for a scale that was taken from the bare reading, with how far it can be off.
std::string assumed_finger(const FingerScale& finger);
/// What to say for a dump that no scale follows from.
std::string ask_for_finger(FrameKind kind);
std::string assumed_policy(const Settings& settings);
std::string assumed_restart();
/// A factory reference came after the first frame.
std::string later_reference();
std::string reference_shape(std::size_t values, Shape shape);
std::string wrong_setting(SettingsField field, const Settings& settings);
/// `power_up_us`, given by hand, is later than the first frame.
std::string late_power_up(std::uint64_t power_up_us, std::uint64_t first_us);
std::string no_frames();

}  // namespace bareglass::host::text
