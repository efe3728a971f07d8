// Every shipped scenario played on the simulated panel and explained. The short answers are kept in
// fixtures/expected/scenarios, each under the scenario's own story, so that a reader sees at once
// whether the answer tells the truth.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/replay/replay.hpp"
#include "bareglass/words/text.hpp"
#include "support/approved_text.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

// The replayed decision is the one that the device's journal holds. Here, since playing and
// replaying a scenario takes most of the time of its answer.
void expect_decisions_of_the_journal(const Account& a) {
  ASSERT_EQ(a.events.size(), a.device_journal.size());
  for (std::size_t i = 0; i < a.events.size(); ++i) {
    EXPECT_EQ(a.events[i].code, a.device_journal[i].code) << "entry " << i;
    EXPECT_EQ(a.events[i].value, a.device_journal[i].value) << "entry " << i;
    EXPECT_EQ(a.events[i].t_us, a.device_journal[i].t_us) << "entry " << i;
  }
}

std::string short_answer(const panel::Scenario& scenario) {
  support::RecordListReader reader(support::records_of(scenario));
  const Account account = replay(reader, scenario.file, {});
  // What was decided before a recording began is not in it.
  if (scenario.record_from_s <= 0) expect_decisions_of_the_journal(account);
  const Diagnosis d = diagnose(account);
  const CauseFound& top = d.causes.front();
  return fmt::format("story: {}\ncause: {} ({}), {} in all\ninput: {}\nplace: {}\nsays:  {}\n",
                     scenario.story, name_of(top.cause), name_of(top.sureness), d.causes.size(),
                     text::state(account.final_state),
                     top.has_place ? text::lines(top.box) : "none", top.headline);
}

class ScenarioFixtureText : public ::testing::TestWithParam<std::string> {};

TEST_P(ScenarioFixtureText, IsAsApprovedAndDecidedAsTheJournalHolds) {
  support::expect_approved("scenarios/" + GetParam(),
                           short_answer(support::scenario_named(GetParam())));
}

INSTANTIATE_TEST_SUITE_P(Shipped, ScenarioFixtureText,
                         ::testing::ValuesIn(support::scenario_names()),
                         [](const auto& one) { return support::test_name(one.param); });

}  // namespace
}  // namespace bareglass::host
