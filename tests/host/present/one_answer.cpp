#include "one_answer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <sstream>

#include "bareglass/answer/cause_group.hpp"
#include "bareglass/present/explanation.hpp"
#include "bareglass/present/html.hpp"
#include "bareglass/present/page_words.hpp"
#include "bareglass/present/report.hpp"
#include "bareglass/words/text.hpp"

namespace bareglass::host {

namespace {

using Found = std::vector<std::string>;

bool holds(const std::string& all, const std::string& part) {
  return all.find(part) != std::string::npos;
}
bool begins(const std::string& all, const std::string& part) { return all.rfind(part, 0) == 0; }

/// Lines joined and runs of blanks made one, so that a wrapped sentence is found.
std::string unwrapped(const std::string& text) {
  std::istringstream words(text);
  std::string out;
  for (std::string word; words >> word;) out += (out.empty() ? "" : " ") + word;
  return out;
}

void check_text(Found& out, const std::string& file, const Account& a, const Diagnosis& d) {
  const std::string text = unwrapped(explanation_text(file, a, d, {}));
  std::size_t at = text.find("What it was (" + text::sureness(d.causes.front()));
  if (at == std::string::npos) out.push_back("text: the first cause's sureness is not told");
  for (std::size_t k = 0; k < std::min<std::size_t>(4, d.causes.size()); ++k) {
    at = text.find(unwrapped(d.causes[k].headline), at == std::string::npos ? 0 : at);
    if (at == std::string::npos)
      out.push_back(
          fmt::format("text: cause {} is not told in its turn", name_of(d.causes[k].cause)));
  }
  if (!holds(text, unwrapped(d.answer))) out.push_back("text: lacks the answer");
}

void check_json(Found& out, const std::string& file, const Account& a, const Diagnosis& d) {
  const auto j = nlohmann::json::parse(explanation_json(file, a, d));
  if (j["causes"].size() != d.causes.size()) {
    out.push_back("JSON: another number of causes");
    return;
  }
  for (std::size_t k = 0; k < d.causes.size(); ++k) {
    const CauseFound& c = d.causes[k];
    const auto& told = j["causes"][k];
    bool same = told["cause"] == name_of(c.cause) && told["sureness"] == name_of(c.sureness) &&
                told["or_else"].size() == c.or_else.size();
    for (std::size_t n = 0; same && n < c.or_else.size(); ++n)
      same = told["or_else"][n] == name_of(c.or_else[n]);
    if (!same) out.push_back(fmt::format("JSON: cause {} is another", k + 1));
  }
  if (j["answer"] != d.answer) out.push_back("JSON: another answer");
}

void check_report(Found& out, const Account& a, const Diagnosis& d) {
  const std::string page = report_html(a, d, {});
  const CauseFound& first = d.causes.front();
  if (!holds(page, fmt::format("<h1>{}</h1>", report::escaped(first.headline))))
    out.push_back("report: its heading is not the first cause's headline");
  for (std::size_t k = 0; k < std::min<std::size_t>(3, d.causes.size()); ++k) {
    const std::string title =
        fmt::format("{}. {} ({}", k + 1, text::title(d.causes[k]), text::sureness(d.causes[k]));
    if (!holds(page, report::escaped(title)))
      out.push_back(fmt::format("report: lacks \"{}\"", title));
  }
  if (!holds(page, report::escaped(d.answer))) out.push_back("report: lacks the answer");
}

/// The cause that the ward page is about: of bare glass at last, what there was before.
const CauseFound& ward_cause(const Diagnosis& d) {
  const bool history = d.causes.size() > 1 && d.causes.front().cause == Cause::bare_glass;
  return d.causes[history ? 1 : 0];
}

void check_ward(Found& out, const Account& a, const Diagnosis& d) {
  const report::WardWords w = report::ward_words(a, d);
  const std::string page = ward_page_html(a, d, {});
  const CauseFound& c = ward_cause(d);
  const CauseGroup group = group_of(c.cause);
  if (!holds(page, report::escaped(w.heading))) out.push_back("ward page: lacks its heading");
  const auto says = [&](const char* part) { return holds(w.heading, part); };
  const bool of_glass = says("on the screen") && !says("Nothing");
  const bool fits = group == CauseGroup::glass   ? of_glass
                    : group == CauseGroup::lines ? says("inside the device has failed")
                    : group == CauseGroup::electronics
                        ? says("power supply or the surroundings")
                        : says("Nothing was found") || says("not show");
  if (!fits) out.push_back(fmt::format("ward page: \"{}\" for {}", w.heading, name_of(c.cause)));
  const bool wipes = std::any_of(w.to_do.begin(), w.to_do.end(),
                                 [](const std::string& s) { return begins(s, "Wipe"); });
  if (wipes != (group == CauseGroup::glass))
    out.push_back(
        fmt::format("ward page: {} wiped for {}", wipes ? "is" : "is not", name_of(c.cause)));
  const bool on = a.final_state == InputState::running;
  if ((says("works again") || says("Touch is switched on")) && !on)
    out.push_back("ward page: touch on while input is off");
  if (says("switched off") && on) out.push_back("ward page: touch off while input is on");
  // What the answer leaves open between glass and unit the ward has to hear as well.
  for (const Cause other : c.or_else) {
    if (group_of(other) == group) continue;
    const bool told = std::any_of(w.happened.begin(), w.happened.end(),
                                  [](const std::string& s) { return holds(s, "cannot tell"); });
    if (!told) out.push_back(fmt::format("ward page: silent on {}", name_of(other)));
  }
}

void check_state(Found& out, const Account& a, const Diagnosis& d) {
  if (a.kind != DumpKind::from_power_up) return;
  const bool on = a.final_state == InputState::running;
  const bool says_off = begins(d.answer, "Input is off") || begins(d.answer, "Input was refused") ||
                        begins(d.answer, "Input never") || begins(d.answer, "Input went off");
  const bool says_on =
      begins(d.answer, "Input is on") || begins(d.answer, "Input was off and came");
  if (says_off && on) out.push_back("answer: input off, and it is on");
  if (says_on && !on) out.push_back("answer: input on, and it is off");
  const std::string badge = report::badge(a);
  if ((badge == "INPUT ON") != on) out.push_back("report: its badge and the state of input differ");
}

bool is_near(const CauseFound& c, int row, int col) {
  constexpr int kNear = 2;
  if (c.lines) {
    const int line = c.lines->of_rows ? row : col;
    return line >= c.lines->first - kNear && line <= c.lines->last + kNear;
  }
  return !c.has_place || (row >= c.box.row0 - kNear && row <= c.box.row1 + kNear &&
                          col >= c.box.col0 - kNear && col <= c.box.col1 + kNear);
}

void check_map(Found& out, const Account& a, const Diagnosis& d) {
  const DecisiveMoment& m = a.decisive;
  if (m.difference.empty()) return;
  const auto size = [](std::int16_t v) { return std::abs(static_cast<int>(v)); };
  const auto most = std::max_element(m.difference.begin(), m.difference.end(),
                                     [&](auto x, auto y) { return size(x) < size(y); });
  if (size(*most) < m.limit) return;
  const auto node = static_cast<int>(most - m.difference.begin());
  const int row = node / m.shape.cols, col = node % m.shape.cols;
  const CauseFound& first = d.causes.front();
  const bool nothing = first.cause == Cause::bare_glass;
  const bool told = std::any_of(d.causes.begin(), d.causes.end(), [&](const CauseFound& c) {
    return c.cause != Cause::bare_glass && is_near(c, row, col);
  });
  if (told || (nothing && !first.speaks_against.empty())) return;
  out.push_back(fmt::format("map: row {}, column {} departs by {} counts, and no cause is there",
                            row, col, *most));
}

bool is_decision(JournalCode c) {
  return c == JournalCode::input_on || c == JournalCode::input_off || c == JournalCode::waiting ||
         c == JournalCode::adopted || c == JournalCode::service_entered;
}

void check_journal(Found& out, const std::string& file, const Account& a, const Diagnosis& d) {
  const auto mine = std::find_if(a.events.begin(), a.events.end(),
                                 [](const JournalEntry& e) { return is_decision(e.code); });
  const auto theirs = std::find_if(a.device_journal.begin(), a.device_journal.end(),
                                   [](const JournalRecord& r) { return is_decision(r.code); });
  if (mine == a.events.end() || theirs == a.device_journal.end()) return;
  const std::string text = unwrapped(explanation_text(file, a, d, {}));
  const bool same = mine->code == theirs->code;
  if (!holds(text, same ? "reports the same decision" : "reports another decision"))
    out.push_back("text: silent on what the device's own journal decided");
}

}  // namespace

std::vector<std::string> contradictions(const std::string& file, const Account& a,
                                        const Diagnosis& d) {
  Found out;
  check_text(out, file, a, d);
  check_json(out, file, a, d);
  check_report(out, a, d);
  check_ward(out, a, d);
  check_state(out, a, d);
  check_map(out, a, d);
  check_journal(out, file, a, d);
  return out;
}

}  // namespace bareglass::host
