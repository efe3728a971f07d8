// The pages: what they say, that they are well formed, ask for nothing outside, and take text from
// a dump as text.
#include "bareglass/present/report.hpp"
#include "bareglass/advise/diagnose.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cctype>
#include <cstdlib>
#include <sstream>
#include <vector>

#include "bareglass/replay/replay.hpp"
#include "bareglass/words/text.hpp"
#include "support/approved_text.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

using ::testing::ContainsRegex;
using ::testing::HasSubstr;
using ::testing::Not;

struct Answer {
  Account account;
  Diagnosis diagnosis;
};

Answer answer(const std::string& scenario) {
  support::RecordListReader reader(support::records_of(scenario));
  Answer a;
  a.account = replay(reader, scenario, {});
  a.diagnosis = diagnose(a.account);
  return a;
}

const Answer& damp_note() {
  static const Answer a = answer("damp-note-peeled");
  return a;
}

ReportExtras extras() {
  return {"unit.frames", "2026-03-01 07:40", "2026-03-01 08:10", "bareglass (test)", {}};
}

std::string report_of(const Answer& a) { return report_html(a.account, a.diagnosis, extras()); }
std::string ward_page_of(const Answer& a) {
  return ward_page_html(a.account, a.diagnosis, extras());
}

// What a reader reads: no style, no markup, no pictures, one line for each piece of text.
std::string words_of(std::string html) {
  const auto cut = [&](const std::string& from, const std::string& to) {
    for (std::size_t i; (i = html.find(from)) != std::string::npos;)
      html.erase(i, html.find(to, i) + to.size() - i);
  };
  cut("<style", "</style>");
  cut("<svg", "</svg>");
  std::string out;
  bool tag = false;
  for (const char c : html) {
    if (c == '<') tag = true;
    if (!tag) out += c;
    if (c == '>') {
      tag = false;
      if (!out.empty() && out.back() != '\n') out += '\n';
    }
  }
  std::istringstream lines(out);
  std::string kept;
  for (std::string line; std::getline(lines, line);)
    if (line.find_first_not_of(" \t") != std::string::npos) kept += line + '\n';
  return kept;
}

// Empty if every element is closed in the order of opening and attributes are quoted; else what is
// wrong.
std::string malformed(const std::string& html) {
  std::vector<std::string> open;
  for (std::size_t i = html.find('<'); i != std::string::npos; i = html.find('<', i + 1)) {
    const std::size_t end = html.find('>', i);
    if (end == std::string::npos) return "a tag without its end";
    const std::string tag = html.substr(i + 1, end - i - 1);
    if (tag.find('<') != std::string::npos) return "a < within a tag: " + tag;
    if (tag[0] == '!') continue;
    if (std::count(tag.begin(), tag.end(), '"') % 2 != 0) return "an open quote: " + tag;
    const std::size_t name_at = tag[0] == '/' ? 1 : 0;
    const std::string name = tag.substr(name_at, tag.find_first_of(" />", name_at) - name_at);
    if (tag[0] == '/') {
      if (open.empty() || open.back() != name) return "</" + name + "> without its beginning";
      open.pop_back();
    } else if (tag.back() != '/') {
      open.push_back(name);
    }
  }
  return open.empty() ? "" : "<" + open.back() + "> is never closed";
}

Answer with_cause(Cause cause, bool has_place) {
  Answer a = damp_note();
  CauseFound c = a.diagnosis.causes.front();
  c.cause = cause;
  c.headline = text::headline(cause);
  c.has_place = has_place;
  a.diagnosis.causes = {c};
  return a;
}

TEST(WellFormedness, IsSeenByTheChecker) {
  EXPECT_EQ(malformed("<p>a<br/></p>"), "");
  EXPECT_NE(malformed("<p><b></p></b>"), "");
  EXPECT_NE(malformed("<p>"), "");
  EXPECT_NE(malformed("<p class=\"x>a</p>"), "");
}

TEST(DampNotePages, AreWellFormedAndSelfContained) {
  for (const std::string& page : {report_of(damp_note()), ward_page_of(damp_note())}) {
    EXPECT_EQ(malformed(page), "");
    EXPECT_THAT(page, Not(HasSubstr("<script")));
    for (const char* outside : {"src=", "href=", "@import", "<link", "<img", "<iframe", "//cdn"})
      EXPECT_THAT(page, Not(HasSubstr(outside)));
    EXPECT_THAT(page, HasSubstr("default-src 'none'"));
    EXPECT_THAT(page, HasSubstr("@page"));
  }
}

TEST(DampNotePages, FixtureTextIsAsApproved) {
  support::expect_approved("pages/damp-note-peeled-report", words_of(report_of(damp_note())));
  support::expect_approved("pages/damp-note-peeled-ward", words_of(ward_page_of(damp_note())));
}

TEST(DampNoteReport, HoldsVerdictPicturesStepsSignatureAndBasis) {
  const std::string page = report_of(damp_note());
  for (const char* part :
       {"INPUT OFF", "damp note", "rows 3 to 8, columns 2 to 6", "Signature", "What to do next",
        "Cautions", "Chain of decisions", "Speaks for it", "Settings mark", "bareglass (test)",
        "2026-03-01 07:40", "aria-label=\"Timeline\"", "aria-label=\"Raw\"",
        "aria-label=\"Reference\"", "url(#opposite)"})
    EXPECT_THAT(page, HasSubstr(part));
  for (const std::string& caution : damp_note().diagnosis.cautions)
    EXPECT_THAT(words_of(page), HasSubstr(caution.substr(0, 20)));
}

TEST(DampNoteMoment, KeepsTheTwoPicturesItsDifferenceIsMadeOf) {
  const DecisiveMoment& m = damp_note().account.decisive;
  const std::size_t nodes = static_cast<std::size_t>(m.shape.nodes());
  ASSERT_EQ(m.raw.size(), nodes);
  ASSERT_EQ(m.bare.size(), nodes);
  ASSERT_EQ(m.difference.size(), nodes);
  // The core also takes off each row's common mode: a few counts of noise here.
  for (std::size_t i = 0; i < nodes; ++i)
    ASSERT_NEAR(m.bare[i] - m.raw[i], m.difference[i], 0.02 * 3533) << "node " << i;
}

TEST(BareGlassAccount, KnowsWhenTouchesWentDown) {
  const Account a = answer("bare-glass").account;
  ASSERT_GT(a.touches, 0u);
  ASSERT_EQ(a.touches_us.size(), a.touches);
  for (const std::uint64_t t : a.touches_us) {
    EXPECT_GE(t, a.first_us);
    EXPECT_LE(t, a.last_us);
  }
}

TEST(HostileDump, StaysText) {
  Answer a = damp_note();
  const std::string attack = "</title></b><script>alert(1)</script><img src=x onerror=alert(2)>";
  a.account.panel.unit_id = attack;
  a.account.panel.panel_name = "\" onload=\"alert(3)";
  a.account.panel.firmware = "a\x01\x1b[2J\xff\xc0\xaf\xed\xa0\x80z";
  a.account.notes = {{0, attack}, {0, "turned \xE2\x80\xAE around"}};
  ReportExtras more = extras();
  more.dump = "<svg/onload=alert(4)>.frames";
  more.before_after = BeforeAfter{attack, true, {{attack, attack, attack, attack, true}}};
  for (const std::string& page :
       {report_html(a.account, a.diagnosis, more), ward_page_html(a.account, a.diagnosis, more)}) {
    EXPECT_EQ(malformed(page), "");
    EXPECT_THAT(page, Not(HasSubstr("<script")));
    EXPECT_THAT(page, Not(HasSubstr("<img")));
    EXPECT_THAT(page, Not(HasSubstr("<svg/")));
    EXPECT_THAT(page, HasSubstr("&lt;script&gt;"));
    for (const char c : page) ASSERT_TRUE(static_cast<unsigned char>(c) >= 0x20 || c == '\n');
    EXPECT_EQ(page.find("\xE2\x80\xAE"), std::string::npos) << "turns the direction of writing";
    EXPECT_EQ(page.find('\xff'), std::string::npos);
    EXPECT_EQ(page.find("\xed\xa0"), std::string::npos) << "a surrogate is not UTF-8 (RFC 3629)";
  }
}

TEST(LongNote, IsShortened) {
  Answer a = damp_note();
  a.account.notes = {{0, std::string(5000, 'n')}};
  EXPECT_THAT(report_of(a), Not(HasSubstr(std::string(200, 'n'))));
  EXPECT_THAT(report_of(a), HasSubstr(std::string(150, 'n')));
}

TEST(TruthOfTheSimulator, IsNotPrinted) {
  Answer a = damp_note();
  a.account.notes = {{0, "truth: a damp note"}, {0, "seen at the morning round"}};
  EXPECT_THAT(report_of(a), Not(HasSubstr("truth:")));
  EXPECT_THAT(report_of(a), HasSubstr("seen at the morning round"));
}

TEST(ReportWithComparison, ShowsBeforeAndAfter) {
  ReportExtras more = extras();
  more.before_after = BeforeAfter{"All limits are kept",
                                  true,
                                  {{"Largest departure", "-13.0 %", "0.9 %", "8.0 %", true}},
                                  "after.frames"};
  const std::string page = report_html(damp_note().account, damp_note().diagnosis, more);
  EXPECT_THAT(words_of(page), HasSubstr("ACCEPTED.\n All limits are kept"));
  EXPECT_THAT(words_of(page), HasSubstr("Dump from after the work: after.frames"));
  EXPECT_THAT(page, HasSubstr("-13.0 %"));
  EXPECT_THAT(report_of(damp_note()), Not(HasSubstr("Before and after")));
}

TEST(PowerCycledReport, ShowsBothPowerUpsAndCountsAsItsTextsDo) {
  const std::string page = report_of(answer("power-cycled"));
  const std::string words = words_of(page);
  std::size_t power_ups = 0;
  for (std::size_t at = 0; (at = words.find("The panel was powered up.", at)) != std::string::npos;
       ++at)
    ++power_ups;
  EXPECT_EQ(power_ups, 2u);
  EXPECT_THAT(words, HasSubstr("from the power-up of each run."));
  EXPECT_THAT(page, Not(::testing::ContainsRegex(">-[0-9.]+ s</text>")));
  EXPECT_THAT(page, HasSubstr(">0 s</text>"));
}

TEST(ReportOfADumpThatStartsLate, NamesNoStartPolicy) {
  const std::string words = words_of(report_of(answer("starts-late")));
  EXPECT_THAT(words, HasSubstr("no start was replayed"));
  EXPECT_THAT(words, Not(ContainsRegex("Start policy: (wait|lock)")));
  EXPECT_THAT(words, Not(HasSubstr("is assumed")));
}

TEST(SurenessInTheReport, IsThatOfSimulatedPanelsInTens) {
  const auto told = [](double confidence) {
    Answer a = damp_note();
    a.diagnosis.causes.front().confidence = confidence;
    return words_of(report_of(a));
  };
  EXPECT_THAT(told(0.98), HasSubstr("on simulated panels at least 9 of 10 findings"));
  EXPECT_THAT(told(0.74), HasSubstr("on simulated panels at least 7 of 10 findings"));
  EXPECT_THAT(told(0.98), Not(HasSubstr("in 100")));
}

TEST(DumpWithoutPicture, SaysSo) {
  Answer a = damp_note();
  a.account.decisive = {};
  EXPECT_EQ(malformed(report_of(a)), "");
  EXPECT_THAT(report_of(a), HasSubstr("no picture of the decision"));
  EXPECT_EQ(malformed(ward_page_of(a)), "");
}

// One test over all causes: the dump they share takes longer to replay than the pages to write.
template <typename Check>
void for_every_cause(Check check) {
  for (int k = 0; k < kCauseCount; ++k) {
    const Cause cause = static_cast<Cause>(k);
    SCOPED_TRACE(name_of(cause));
    check(cause);
  }
}

bool lies_on_the_glass(Cause cause) {
  switch (cause) {
    case Cause::bare_glass:
    case Cause::lone_node:
    case Cause::open_line:
    case Cause::crack:
    case Cause::bridged_lines:
    case Cause::raised_resistance:
    case Cause::worn_tail:
    case Cause::intermittent_line:
    case Cause::interference:
    case Cause::common_mode:
    case Cause::floating_ground:
    case Cause::supply_sag:
    case Cause::temperature:
    case Cause::aged_reference:
    case Cause::not_enough:
      return false;
    default:
      return true;
  }
}

TEST(EveryCause, HasPagesThatAreWellFormed) {
  for_every_cause([](Cause cause) {
    for (const bool place : {false, true}) {
      EXPECT_EQ(malformed(report_of(with_cause(cause, place))), "");
      EXPECT_EQ(malformed(ward_page_of(with_cause(cause, place))), "");
    }
  });
}

TEST(EveryCause, IsToldToTheWardWithoutTechnicalWords) {
  for_every_cause([](Cause cause) {
    std::string words = words_of(ward_page_of(with_cause(cause, true)));
    for (char& c : words) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    for (const char* jargon : {"capacit", "baseline", "node", "counts", "threshold", "bezel",
                               "conductor", "ground", "input", "row ", "column", "calibrat",
                               "reference", "dump", "frames", "interference", "common mode"})
      EXPECT_THAT(words, Not(HasSubstr(jargon)));
    EXPECT_THAT(words, HasSubstr("never tape or lay anything over the screen"));
    EXPECT_THAT(words, HasSubstr("technician"));
  });
}

TEST(EveryCause, BlamesTheWardForNothingThatIsNotOnTheGlass) {
  for_every_cause([](Cause cause) {
    const std::string words = words_of(ward_page_of(with_cause(cause, true)));
    if (lies_on_the_glass(cause)) {
      EXPECT_THAT(words, HasSubstr("Take everything off the screen"));
    } else {
      EXPECT_THAT(words, ContainsRegex("nothing in the recording speaks against anybody on the "
                                       "ward|Nothing in it shows"));
      EXPECT_THAT(words, Not(HasSubstr("nobody on the ward did anything wrong")));
      EXPECT_THAT(words, Not(HasSubstr("Take everything off")));
      EXPECT_THAT(words, Not(HasSubstr("Wipe the screen")));
    }
  });
}

TEST(WardPageOfADamagedPart, AsksWhetherTheDeviceWasDropped) {
  for (const Cause cause : {Cause::crack, Cause::open_line, Cause::worn_tail})
    EXPECT_THAT(words_of(ward_page_of(with_cause(cause, true))), HasSubstr("dropped or knocked"));
  EXPECT_THAT(words_of(ward_page_of(with_cause(Cause::supply_sag, true))),
              Not(HasSubstr("dropped or knocked")));
}

std::string ward_words_of_scenario(const std::string& scenario) {
  return words_of(ward_page_of(answer(scenario)));
}

TEST(WardPageOfALayerThatWasNeverRefused, TellsNoEventThatDidNotHappen) {
  Answer a = answer("dry-tape");
  CauseFound layer;
  layer.cause = Cause::residue;
  layer.or_else = {Cause::dry_film};
  layer.sureness = Sureness::likely;
  layer.confidence = 0.7;
  layer.ended = true;
  layer.headline = "A thin layer.";
  a.diagnosis.causes.assign(1, layer);
  const std::string words = words_of(ward_page_of(a));
  EXPECT_THAT(words, HasSubstr("A thin layer was on the screen."));
  EXPECT_THAT(words, HasSubstr("The screen itself shows no fault."));
  for (const char* never :
       {"again", "stopped answering", "switched off", "Something thin and damp"})
    EXPECT_THAT(words, Not(HasSubstr(never)));
}

TEST(WardPageOfALabelThatWasNeverRefused, SaysThatTouchStayedOn) {
  const std::string words = ward_words_of_scenario("metal-backed-label");
  EXPECT_THAT(words, HasSubstr("did not switch touch off"));
  EXPECT_THAT(words, Not(HasSubstr("answers again")));
}

TEST(WardPageOfAnAdoptedSmear, SaysThatTheScreenTookItForItself) {
  const std::string words = ward_words_of_scenario("isolated-l-streak");
  EXPECT_THAT(words, HasSubstr("took it for a part of itself"));
  EXPECT_THAT(words, HasSubstr("set itself up anew"));
  EXPECT_THAT(words, Not(HasSubstr("stopped answering")));
}

TEST(WardPageOfAnAdoptedSmearThatIsStillThere, AsksForARestart) {
  Answer a = damp_note();
  a.account.final_state = InputState::running;
  a.account.events = {JournalEntry{}};
  a.account.events[0].code = JournalCode::adopted;
  const std::string words = words_of(ward_page_of(a));
  EXPECT_THAT(words, HasSubstr("Touch may go wrong."));
  EXPECT_THAT(words, HasSubstr("restart the device with nothing on the screen"));
}

TEST(WardPageOfAPowerCycle, TellsOfTheRestart) {
  const std::string words = ward_words_of_scenario("power-cycled");
  EXPECT_THAT(words, HasSubstr("Touch works again."));
  EXPECT_THAT(words, HasSubstr("since the device was switched on anew"));
}

TEST(WardPageOfADumpThatStartsLate, DoesNotSayWhatBecameOfTouch) {
  const std::string words = ward_words_of_scenario("starts-late");
  EXPECT_THAT(words, HasSubstr("Something was on the screen.\n"));
  EXPECT_THAT(words, Not(HasSubstr("touch was switched off")));
  EXPECT_THAT(words, Not(HasSubstr("again.")));
}

TEST(PlaceOnTheWardPage, IsNamedInWords) {
  const auto place = [](Box box) {
    Answer a = with_cause(Cause::drops, true);
    a.diagnosis.causes[0].box = box;
    return words_of(ward_page_of(a));
  };
  // Rows 0 to 15, columns 0 to 9.
  EXPECT_THAT(place({0, 2, 0, 1}), HasSubstr("Where: in the upper left part."));
  EXPECT_THAT(place({7, 8, 4, 5}), HasSubstr("Where: in the middle of the screen."));
  EXPECT_THAT(place({13, 15, 8, 9}), HasSubstr("Where: in the lower right part."));
  EXPECT_THAT(place({0, 1, 0, 9}), HasSubstr("Where: along the top, over the whole width."));
  EXPECT_THAT(place({0, 15, 0, 1}), HasSubstr("Where: along the left side, from top to bottom."));
  EXPECT_THAT(place({0, 15, 0, 9}), HasSubstr("Where: over most of the screen."));
}

TEST(SettingsMark, ChangesWithTheSettings) {
  const Settings s;
  Settings other;
  other.clear_ms += 1;
  Settings third;
  third.surface_permille += 1;
  EXPECT_EQ(settings_mark(s), settings_mark(Settings{}));
  EXPECT_NE(settings_mark(s), settings_mark(other));
  EXPECT_NE(settings_mark(s), settings_mark(third));
}

}  // namespace
}  // namespace bareglass::host
