#include "bareglass/core/journal.hpp"

#include <gtest/gtest.h>

#include <cstdint>

namespace bareglass {
namespace {

JournalEntry numbered(std::uint32_t n) {
  return {n * 10u, static_cast<std::int32_t>(n), -1, JournalCode::sampled, 3, 4, 5};
}

TEST(JournalEntry, Takes24BytesAsDocumented) { EXPECT_EQ(sizeof(JournalEntry), 24u); }

TEST(FreshJournal, IsEmpty) {
  const Journal journal;
  EXPECT_EQ(journal.first(), 0u);
  EXPECT_EQ(journal.end(), 0u);
}

TEST(JournalThatIsNotFull, KeepsEveryEntryInOrder) {
  Journal journal;
  for (std::uint32_t n = 0; n < Journal::kSize; ++n) journal.add(numbered(n));
  EXPECT_EQ(journal.first(), 0u);
  EXPECT_EQ(journal.end(), Journal::kSize);
  for (std::uint32_t n = 0; n < Journal::kSize; ++n) {
    const JournalEntry& e = journal.at(n);
    EXPECT_EQ(e.t_us, n * 10u);
    EXPECT_EQ(e.value, static_cast<std::int32_t>(n));
    EXPECT_EQ(e.limit, -1);
    EXPECT_EQ(e.code, JournalCode::sampled);
    EXPECT_EQ(e.detail, 3);
    EXPECT_EQ(e.row, 4);
    EXPECT_EQ(e.col, 5);
  }
}

TEST(JournalThatOverflows, KeepsTheNewestAndCountsAll) {
  Journal journal;
  constexpr std::uint32_t kAll = 3 * Journal::kSize + 7;
  for (std::uint32_t n = 0; n < kAll; ++n) {
    journal.add(numbered(n));
    const std::uint32_t kept = n + 1 < Journal::kSize ? n + 1 : Journal::kSize;
    ASSERT_EQ(journal.end() - journal.first(), kept);
    for (std::uint32_t k = journal.first(); k < journal.end(); ++k)
      ASSERT_EQ(journal.at(k).value, static_cast<std::int32_t>(k));
  }
  EXPECT_EQ(journal.end(), kAll);
  journal.clear();
  EXPECT_EQ(journal.first(), 0u);
  EXPECT_EQ(journal.end(), 0u);
}

TEST(JournalCodes, KeepTheirPublishedNumbers) {
  // The numbers travel in captures; a changed number would make old captures lie.
  EXPECT_EQ(static_cast<int>(JournalCode::power_up), 1);
  EXPECT_EQ(static_cast<int>(JournalCode::glass_not_bare), 5);
  EXPECT_EQ(static_cast<int>(JournalCode::input_on), 7);
  EXPECT_EQ(static_cast<int>(JournalCode::input_off), 8);
  EXPECT_EQ(static_cast<int>(JournalCode::adopted), 11);
  EXPECT_EQ(static_cast<int>(JournalCode::contact_judged), 15);
  EXPECT_EQ(static_cast<int>(JournalCode::object_lifted), 16);
  EXPECT_EQ(static_cast<int>(JournalCode::baseline_disproved), 17);
  EXPECT_EQ(static_cast<int>(JournalCode::phantom_held_back), 18);
  EXPECT_EQ(static_cast<int>(JournalCode::wrong_shape), 24);
  EXPECT_EQ(static_cast<int>(JournalCode::line_held_back), 25);
  EXPECT_EQ(static_cast<int>(JournalCode::interference_held_back), 26);
  EXPECT_EQ(static_cast<int>(JournalCode::supply_low), 27);
  EXPECT_EQ(static_cast<int>(JournalCode::clock_restarted), 28);
  EXPECT_EQ(static_cast<int>(JournalCode::stamp_ahead), 29);
  EXPECT_EQ(static_cast<int>(JournalCode::frames_unwatched), 30);
  EXPECT_EQ(static_cast<int>(JournalCode::sequence_back), 31);
  EXPECT_EQ(static_cast<int>(JournalCode::findings_overflow), 32);
  EXPECT_EQ(static_cast<int>(JournalCode::lines_overflow), 33);
  EXPECT_EQ(static_cast<int>(JournalCode::start_saturated), 34);
  EXPECT_EQ(static_cast<int>(JournalCode::unsettled), 35);
  EXPECT_EQ(static_cast<int>(JournalCode::spread_hides), 36);
  EXPECT_EQ(static_cast<int>(JournalCode::seen_from), 37);
  EXPECT_EQ(static_cast<int>(JournalCode::frames_unread), 38);
  EXPECT_EQ(static_cast<int>(JournalCode::palm_held_back), 40);
}

}  // namespace
}  // namespace bareglass
