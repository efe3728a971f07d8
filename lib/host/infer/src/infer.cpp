#include "bareglass/infer/infer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>

#include "answer.hpp"
#include "bareglass/words/text.hpp"
#include "cannot_tell.hpp"
#include "confidence.hpp"
#include "electrical_survey.hpp"
#include "evidence.hpp"
#include "evidence_text.hpp"
#include "glass_causes.hpp"
#include "joining.hpp"
#include "line_survey.hpp"
#include "reading.hpp"
#include "whole_cover.hpp"

namespace bareglass::host {

namespace {

// Shares of such answers that were right, see CALIBRATION.md.
constexpr double kBareByReference = 0.97;
constexpr double kBareWithout = 0.88;

CauseFound nothing_found(const Account& a, const std::vector<CauseFound>& faint) {
  CauseFound c;
  c.cause = Cause::bare_glass;
  c.headline = a.kind == DumpKind::from_power_up ? "Nothing was found on the glass."
                                                 : "Nothing was found on the glass in this dump.";
  const bool known = a.kind == DumpKind::from_power_up && a.has_reference && faint.empty();
  c.confidence = known ? kBareByReference : kBareWithout;
  // Without a reference or the start-up too much can hide to be sure of nothing.
  c.sureness = known ? Sureness::sure : Sureness::likely;
  c.limit = a.decisive.limit;
  for (const std::int16_t d : a.decisive.difference)
    if (std::abs(d) > std::abs(c.measured)) c.measured = d;
  for (const CauseFound& f : faint)
    c.speaks_against.push_back(text::may_be_faint(f.box, f.measured, a.settings));
  // Kept from being called a thing by what the whole dump shows; the reader must see that it is
  // there.
  const auto against = a.decisive.against;
  if (std::abs(c.measured) >= c.limit)
    c.speaks_against.push_back(
        text::departure_of_touches(against, c.measured, c.limit, a.settings));
  else
    c.speaks_for.push_back(text::largest_departure(against, c.measured, c.limit, a.settings));
  return c;
}

/// The dump ends before the first look at the glass was over.
bool is_undecided(const Account& a) {
  return a.kind == DumpKind::from_power_up &&
         (a.final_state == InputState::settling || a.final_state == InputState::looking);
}

CauseFound too_short(const Account& a) {
  CauseFound c;
  c.cause = Cause::not_enough;
  c.headline = text::headline(c.cause);
  c.sureness = Sureness::sure;
  c.confidence = 0.97;
  c.speaks_for.push_back(
      fmt::format("It ends {:.2f} s after the first frame, before the panel had looked at its "
                  "glass.",
                  static_cast<double>(a.last_us - a.first_us) / 1e6));
  return c;
}

CauseFound unreadable() {
  CauseFound c;
  c.cause = Cause::not_enough;
  c.headline = text::headline(c.cause);
  c.sureness = Sureness::sure;
  c.confidence = 0.97;
  c.speaks_for.emplace_back("No frame of it could be read.");
  return c;
}

// Nothing stood out, yet the looks were restless.
CauseFound restless(const Account& a, const JournalEntry& e) {
  CauseFound c;
  c.cause = Cause::moving_thing;
  c.sureness = Sureness::likely;
  c.confidence = 0.6;
  c.headline =
      "The readings did not stand still while the panel set itself up: something moved on the "
      "glass, or interference reached it.";
  c.measured = e.value;
  c.limit = e.limit;
  c.first_us = e.t_us;
  c.has_place = e.row != kNoLine;
  c.box = {e.row, e.row, e.col, e.col};
  c.speaks_for.push_back(
      fmt::format("One node moved by {} counts, {} of a finger, during one look; {} is allowed.",
                  e.value, text::percent(e.value, a.settings), text::percent(e.limit, a.settings)));
  c.speaks_against.emplace_back("A hand and interference can't be told apart from one look.");
  return c;
}

/// More than one frame in ten at the converter's limits: something is wrong that nothing explains.
bool is_doubtful(const Account& a) {
  return a.kind == DumpKind::differences_only || 10 * a.frames_saturated > a.frames;
}

/// A start on bare glass, input on ever since, and nothing that the device itself made sure of:
/// what is read into such a dump afterwards may be what fingers leave behind.
bool was_in_use_throughout(const Account& a) {
  const auto has = [&](JournalCode code) { return first_event(a, code) != nullptr; };
  if (a.kind != DumpKind::from_power_up || !has(JournalCode::glass_bare)) return false;
  if (has(JournalCode::input_off) || has(JournalCode::service_entered) ||
      has(JournalCode::waiting) || has(JournalCode::adopted))
    return false;
  return std::none_of(a.findings.begin(), a.findings.end(), [](const FindingStory& s) {
    const FindingKind kind = s.last.kind;
    return s.last.confirmed && kind != FindingKind::lone_node && kind != FindingKind::faint_film &&
           (is_surface_kind(kind) || is_line_kind(kind));
  });
}

constexpr double kUnconfirmed = 0.85;        // likely, not sure
constexpr std::uint64_t kStartUs = 1000000;  // what lay there from the start shows by then

void settle_confidence(std::vector<CauseFound>& causes, const Account& a) {
  const bool in_use = was_in_use_throughout(a);
  for (CauseFound& c : causes) {
    c.confidence = calibrated(c.cause, c.confidence);
    // That a panel is blind is what spoils its frames.
    if (is_doubtful(a) && !is_blind(c, a.settings.shape))
      c.confidence = std::min(c.confidence, kDoubtful);
    const bool by_wire = c.cause >= Cause::interference && c.cause <= Cause::aged_reference;
    const bool came_later = c.first_us > a.first_us + kStartUs;
    const bool is_at_stake = !by_wire && c.cause != Cause::lone_node;
    if (in_use && came_later && is_at_stake && !is_blind(c, a.settings.shape))
      c.confidence = std::min(c.confidence, kUnconfirmed);
    c.sureness = sureness_told(c.confidence);
  }
}

/// A wide earthed thing that came in use and went again, sooner than the device makes sure of one,
/// is what thumbs and fingers side by side are.
void leave_out_hands(std::vector<CauseFound>& causes, const Account& a) {
  if (!was_in_use_throughout(a) || a.touches == 0) return;
  const std::uint64_t palm_us = std::uint64_t{a.settings.palm_ms} * 1000;
  const auto is_hand = [&](const CauseFound& c) {
    return c.cause == Cause::grounded_film && c.first_us > a.first_us + kStartUs && c.ended &&
           c.ended_us - c.first_us < palm_us;
  };
  causes.erase(std::remove_if(causes.begin(), causes.end(), is_hand), causes.end());
}

struct Causes {
  std::vector<CauseFound> told;
  std::vector<CauseFound> faint;
};

Causes causes_of(const Account& a) {
  Reading reading(a);
  Causes out;
  std::vector<CauseFound>& causes = out.told;
  if (reading.blind().windows != 0) causes.push_back(weigh_blind(reading.blind(), a));
  for (const LineGroup& g : find_line_groups(reading, a)) causes.push_back(weigh_lines(g, a));
  for (const ElectricalFound& e : find_electrical(reading, a))
    causes.push_back(weigh_electrical(e, a));
  for (CauseFound& c : causes) c.sureness = sureness_told(c.confidence);
  GlassCauses glass = glass_causes(a, reading);
  out.faint = std::move(glass.faint);
  const auto is_sag = [](const CauseFound& c) { return c.cause == Cause::supply_sag; };
  if (std::none_of(causes.begin(), causes.end(), is_sag))
    if (std::optional<CauseFound> cover = whole_cover(a, reading)) {
      // What covers all of the glass is not told as a cold unit as well.
      const auto same = [](const CauseFound& c) { return c.cause == Cause::temperature; };
      causes.erase(std::remove_if(causes.begin(), causes.end(), same), causes.end());
      glass.told.push_back(std::move(*cover));
    }
  join(causes, std::move(glass.told), reading, a.settings.shape);
  settle_confidence(causes, a);
  leave_out_hands(causes, a);
  put_surest_first(causes);
  const JournalEntry* unsteady = first_event(a, JournalCode::unsteady);
  // Sixteen frames of plain noise range over some 7.5 standard deviations on the least steady node.
  const bool at_start = a.kind == DumpKind::from_power_up && unsteady != nullptr &&
                        (reading.empty() || unsteady->t_us <= reading.window(0).last_us) &&
                        static_cast<float>(unsteady->value) > 10.f * reading.noise();
  if (causes.empty() && unsteady != nullptr && at_start) causes.push_back(restless(a, *unsteady));
  if (causes.empty())
    causes.push_back(reading.empty()   ? unreadable()
                     : is_undecided(a) ? too_short(a)
                                       : nothing_found(a, out.faint));
  return out;
}

}  // namespace

Diagnosis infer(const Account& account) {
  Diagnosis d;
  Causes found = causes_of(account);
  d.causes = std::move(found.told);
  // What was over before the last run is history, however weighty; the answer is about the unit as
  // it started last.
  const auto history =
      std::stable_partition(d.causes.begin(), d.causes.end(), [&](const CauseFound& c) {
        return !c.ended || account.runs.size() < 2 || c.ended_us >= zero_time(account);
      });
  if (history == d.causes.begin() && history != d.causes.end())
    d.causes.insert(d.causes.begin(), nothing_found(account, found.faint));
  d.answer = answer(account, d.causes);
  d.cannot_tell = cannot_tell(account, d.causes);
  return d;
}

}  // namespace bareglass::host
