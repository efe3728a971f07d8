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

std::string short_answer(const panel::Scenario& scenario) {
  support::RecordListReader reader(support::records_of(scenario));
  const Account account = replay(reader, scenario.file, {});
  const Diagnosis d = diagnose(account);
  const CauseFound& top = d.causes.front();
  return fmt::format("story: {}\ncause: {} ({}), {} in all\ninput: {}\nplace: {}\nsays:  {}\n",
                     scenario.story, name_of(top.cause), name_of(top.sureness), d.causes.size(),
                     text::state(account.final_state),
                     top.has_place ? text::lines(top.box) : "none", top.headline);
}

class ScenarioFixtureText : public ::testing::TestWithParam<std::string> {};

TEST_P(ScenarioFixtureText, IsAsApproved) {
  support::expect_approved("scenarios/" + GetParam(),
                           short_answer(support::scenario_named(GetParam())));
}

INSTANTIATE_TEST_SUITE_P(Shipped, ScenarioFixtureText,
                         ::testing::ValuesIn(support::scenario_names()),
                         [](const auto& one) { return support::test_name(one.param); });

}  // namespace
}  // namespace bareglass::host
