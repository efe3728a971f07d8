// Several causes for one signal, the answer above them, and how surely they are told.
#include "../../../lib/host/infer/src/joining.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "../../../lib/host/infer/src/answer.hpp"
#include "../../../lib/host/infer/src/confidence.hpp"
#include "bareglass/advise/diagnose.hpp"
#include "bareglass/words/text.hpp"
#include "scene_data.hpp"
#include "support/journal_entries.hpp"

namespace bareglass::host {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

CauseFound cause(Cause what, Box box) {
  CauseFound c;
  c.cause = what;
  c.has_place = true;
  c.box = box;
  return c;
}

class JoinedCauses : public ::testing::Test {
 protected:
  std::vector<Cause> join_with(CauseFound electrical, std::vector<CauseFound> surface) {
    const Reading reading(account_);
    std::vector<CauseFound> causes{std::move(electrical)};
    join(causes, std::move(surface), reading, account_.settings.shape);
    std::vector<Cause> names;
    for (const CauseFound& c : causes) names.push_back(c.cause);
    return names;
  }
  void make_noisy(int column) {
    for (SurveyWindow& w : account_.survey.windows)
      for (int r = 0; r < 16; ++r) w.noise[static_cast<std::size_t>(r * 20 + column)] *= 2.f;
  }
  Account account_ = account_of(ScenePlan{});
  const Box column_{0, 15, 7, 7};
  const Box patch_{3, 7, 5, 10};
};

TEST_F(JoinedCauses, StandingPatternOfAThingIsNoInterference) {
  EXPECT_THAT(
      join_with(cause(Cause::interference, column_), {cause(Cause::isolated_streak, patch_)}),
      ::testing::ElementsAre(Cause::isolated_streak));
}

TEST_F(JoinedCauses, NoisyColumnsStayInterferenceAndTakeTheThingAlongThem) {
  make_noisy(7);
  EXPECT_THAT(join_with(cause(Cause::interference, column_), {cause(Cause::isolated_film, patch_)}),
              ::testing::ElementsAre(Cause::interference));
}

TEST_F(JoinedCauses, ThingAwayFromNoisyColumnsIsNamedToo) {
  make_noisy(7);
  EXPECT_THAT(
      join_with(cause(Cause::interference, column_), {cause(Cause::isolated_film, {3, 7, 12, 16})}),
      ::testing::ElementsAre(Cause::interference, Cause::isolated_film));
}

TEST_F(JoinedCauses, NoiseOfAMovingThingIsNoInterferenceAndNoWeakContact) {
  make_noisy(7);
  EXPECT_THAT(join_with(cause(Cause::interference, column_), {cause(Cause::moving_thing, {})}),
              ::testing::ElementsAre(Cause::moving_thing));
  EXPECT_THAT(join_with(cause(Cause::floating_ground, patch_), {cause(Cause::moving_thing, {})}),
              ::testing::ElementsAre(Cause::moving_thing));
}

TEST_F(JoinedCauses, WeakContactIsTheContactAndNoFilm) {
  EXPECT_THAT(
      join_with(cause(Cause::floating_ground, patch_), {cause(Cause::grounded_film, {4, 6, 6, 8})}),
      ::testing::ElementsAre(Cause::floating_ground));
}

TEST_F(JoinedCauses, SinkingSupplyPassesForAFilmOnlyOverHalfOfThePanel) {
  const Box half{0, 15, 0, 11};
  EXPECT_THAT(join_with(cause(Cause::supply_sag, {}), {cause(Cause::grounded_film, half)}),
              ::testing::ElementsAre(Cause::supply_sag));
  EXPECT_THAT(join_with(cause(Cause::supply_sag, {}), {cause(Cause::grounded_film, patch_)}),
              ::testing::ElementsAre(Cause::supply_sag, Cause::grounded_film));
}

TEST(SeveralCauses, AreToldSurestFirstAndOtherwiseInTheirOrder) {
  const auto told = [](Cause what, Sureness sureness) {
    CauseFound c = cause(what, {});
    c.sureness = sureness;
    return c;
  };
  std::vector<CauseFound> causes{
      told(Cause::bridged_lines, Sureness::likely), told(Cause::interference, Sureness::possible),
      told(Cause::isolated_streak, Sureness::sure), told(Cause::drops, Sureness::likely),
      told(Cause::wet_bezel, Sureness::sure)};
  put_surest_first(causes);
  std::vector<Cause> order;
  for (const CauseFound& c : causes) order.push_back(c.cause);
  EXPECT_THAT(order,
              ::testing::ElementsAre(Cause::isolated_streak, Cause::wet_bezel, Cause::bridged_lines,
                                     Cause::drops, Cause::interference));
}

TEST(SurestFirst, PutsWhatThePanelCopesWithAfterWhatIsLikely) {
  const auto told = [](Cause what, Sureness sureness) {
    CauseFound c;
    c.cause = what;
    c.sureness = sureness;
    return c;
  };
  std::vector<CauseFound> causes = {
      told(Cause::common_mode, Sureness::sure), told(Cause::wet_bezel, Sureness::likely),
      told(Cause::drops, Sureness::possible), told(Cause::crack, Sureness::sure)};
  put_surest_first(causes);
  std::vector<Cause> order;
  for (const CauseFound& c : causes) order.push_back(c.cause);
  EXPECT_THAT(order, ::testing::ElementsAre(Cause::crack, Cause::wet_bezel, Cause::common_mode,
                                            Cause::drops));
  // A level within the range of references and a swing that is no more than likely explain less
  // than what is merely possible; a level far beyond it does not.
  causes = {told(Cause::temperature, Sureness::likely), told(Cause::common_mode, Sureness::likely),
            told(Cause::drops, Sureness::possible)};
  put_surest_first(causes);
  order.clear();
  for (const CauseFound& c : causes) order.push_back(c.cause);
  EXPECT_THAT(order, ::testing::ElementsAre(Cause::drops, Cause::common_mode, Cause::temperature));
  causes = {told(Cause::drops, Sureness::likely), told(Cause::temperature, Sureness::sure)};
  put_surest_first(causes);
  EXPECT_EQ(causes.front().cause, Cause::temperature);
}

TEST(RefusedInputOnBareGlass, IsExplainedByWhatThePanelWentBy) {
  Account a = account_of(ScenePlan{});
  a.final_state = InputState::off;
  JournalEntry seen;
  seen.code = JournalCode::glass_not_bare;
  seen.t_us = 340000;
  seen.value = 260;
  seen.limit = 240;
  seen.row = 4;
  seen.col = 5;
  JournalEntry off = seen;
  off.code = JournalCode::input_off;
  a.events = {seen, off};
  CauseFound bare;
  bare.cause = Cause::bare_glass;
  const std::string told = answer(a, {bare});
  EXPECT_THAT(told, HasSubstr("although nothing is on the glass"));
  EXPECT_THAT(told, HasSubstr("260 counts"));
  EXPECT_THAT(told, HasSubstr("0.340 s"));
  // With a cause it is the cause's answer.
  EXPECT_THAT(answer(a, {cause(Cause::wet_bezel, {})}), Not(HasSubstr("although nothing")));
}

Account account_with(std::initializer_list<JournalCode> codes) {
  return support::input_on_after(account_of(ScenePlan{}), codes);
}

TEST(AnswerUnderPolicyAdopt, WarnsWhileTheObjectIsInTheBaselineAndNotAfterwards) {
  const std::vector<CauseFound> note{cause(Cause::isolated_film, {})};
  const Account stuck = account_with({JournalCode::power_up, JournalCode::glass_not_bare,
                                      JournalCode::adopted, JournalCode::input_on});
  EXPECT_THAT(answer(stuck, note), HasSubstr("must be expected"));
  for (const JournalCode code : {JournalCode::object_lifted, JournalCode::baseline_disproved}) {
    const Account anew =
        account_with({JournalCode::power_up, JournalCode::adopted, JournalCode::input_on, code,
                      JournalCode::glass_bare, JournalCode::input_on});
    EXPECT_THAT(answer(anew, note), HasSubstr("took its baseline anew"));
    EXPECT_THAT(answer(anew, note), Not(HasSubstr("must be expected")));
  }
}

TEST(AnswerUnderPolicyAdopt, PutsNothingOnTheGlassOfABrokenPanel) {
  const Account a =
      account_with({JournalCode::power_up, JournalCode::adopted, JournalCode::input_on});
  const std::string told = answer(a, {cause(Cause::crack, {})});
  EXPECT_THAT(told, HasSubstr("with a fault of lines or supply"));
  EXPECT_THAT(told, Not(HasSubstr("something on the glass")));
  EXPECT_THAT(told, HasSubstr("must be expected"));
}

TEST(AnswerWithInputOnAllAlong, DoesNotCallAGlassBareThatHoldsALayer) {
  const Account a =
      account_with({JournalCode::power_up, JournalCode::glass_bare, JournalCode::input_on});
  EXPECT_THAT(answer(a, {cause(Cause::residue, {})}), HasSubstr("found nothing that it refuses"));
  EXPECT_THAT(answer(a, {cause(Cause::residue, {})}), Not(HasSubstr("bare")));
  EXPECT_THAT(answer(a, {cause(Cause::bare_glass, {})}), HasSubstr("the glass was bare"));
}

TEST(AnswerAfterARestart, TellsOfTheRestartAndOfNoWaiting) {
  const std::vector<CauseFound> finger{cause(Cause::touch_at_power_up, {})};
  const Account restarted =
      account_with({JournalCode::power_up, JournalCode::glass_not_bare, JournalCode::input_off,
                    JournalCode::glass_bare, JournalCode::power_up, JournalCode::glass_bare,
                    JournalCode::input_on});
  EXPECT_THAT(answer(restarted, finger), HasSubstr("with a restart"));
  EXPECT_THAT(answer(restarted, finger), Not(HasSubstr("waited")));
  const Account waited =
      account_with({JournalCode::power_up, JournalCode::glass_not_bare, JournalCode::waiting,
                    JournalCode::glass_bare, JournalCode::input_on});
  EXPECT_THAT(answer(waited, finger), HasSubstr("waited until the glass was bare"));
}

TEST(LayerOfOneOfTwoKinds, IsSurelyOneOfTheTwo) {
  CauseFound layer = cause(Cause::residue, {});
  layer.sureness = Sureness::sure;
  EXPECT_EQ(text::sureness(layer), "sure");
  EXPECT_EQ(text::title(layer), "Residue");
  layer.or_else = {Cause::dry_film};
  EXPECT_EQ(text::sureness(layer), "sure that it is one of two");
  EXPECT_THAT(text::title(layer), HasSubstr("dry film or residue"));
  layer.or_else.push_back(Cause::isolated_film);
  EXPECT_EQ(text::sureness(layer), "sure that it is one of three");
  EXPECT_THAT(text::title(layer), HasSubstr(", or "));
}

TEST(NothingFound, SaysThatADepartureBeyondTheLimitSpeaksAgainstIt) {
  Account a = account_of(ScenePlan{});
  a.decisive.difference.assign(static_cast<std::size_t>(a.settings.shape.nodes()), 0);
  for (const bool beyond : {false, true}) {
    a.decisive.difference[7] = static_cast<std::int16_t>(a.decisive.limit + (beyond ? 0 : -1));
    const Diagnosis d = diagnose(a);
    ASSERT_EQ(d.causes.front().cause, Cause::bare_glass);
    EXPECT_EQ(d.causes.front().speaks_for.size(), beyond ? 0u : 1u);
    ASSERT_EQ(d.causes.front().speaks_against.size(), beyond ? 1u : 0u);
    if (!beyond) continue;
    EXPECT_THAT(d.causes.front().speaks_against.front(), HasSubstr("beyond the 8.0 %"));
  }
}

TEST(Confidence, RisesWithTheScoreAndStaysAShare) {
  for (const Cause what :
       {Cause::isolated_film, Cause::open_line, Cause::common_mode, Cause::temperature}) {
    double before = 0;
    for (int k = 0; k <= 100; ++k) {
      const double now = calibrated(what, k / 100.0);
      EXPECT_GE(now, before);
      EXPECT_GT(now, 0.0);
      EXPECT_LT(now, 1.0);
      before = now;
    }
  }
  EXPECT_EQ(sureness_told(kDoubtful), Sureness::possible);
  EXPECT_EQ(sureness_told(0.6), Sureness::likely);
  EXPECT_EQ(sureness_told(0.9), Sureness::sure);
}

}  // namespace
}  // namespace bareglass::host
