// What all nodes of a panel share: a level that is off, an offset of the converter.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/replay/replay.hpp"
#include "support/record_list.hpp"
#include "support/simulated_records.hpp"

namespace bareglass::host {
namespace {

/// The start-up of a bare panel with every count changed.
Diagnosis bare_with(const std::function<double(double)>& change) {
  std::vector<Record> records = support::records_of("bare-glass");
  for (Record& r : records)
    if (auto* frame = std::get_if<FrameRecord>(&r))
      for (std::uint16_t& v : frame->raw)
        v = static_cast<std::uint16_t>(std::clamp(change(v), 0.0, 65535.0));
  support::RecordListReader reader(std::move(records));
  return diagnose(replay(reader, "bare", {}));
}

TEST(ColdPanel, IsToldAsOneOfTwoAndNothingOnTheGlass) {
  for (const double gain : {1.06, 0.94}) {
    const Diagnosis d = bare_with([&](double v) { return gain * v; });
    const CauseFound& first = d.causes.front();
    EXPECT_TRUE(first.cause == Cause::temperature || first.cause == Cause::supply_sag)
        << name_of(first.cause) << " at " << gain;
    for (const CauseFound& c : d.causes) EXPECT_FALSE(c.has_place) << name_of(c.cause);
  }
}

TEST(ColdPanel, IsTemperatureOrAReferenceThatNoLongerFitsIfItReadsHigh) {
  const Diagnosis d = bare_with([](double v) { return 1.06 * v; });
  EXPECT_EQ(d.causes.front().cause, Cause::temperature);
  EXPECT_THAT(d.causes.front().or_else, testing::ElementsAre(Cause::aged_reference));
}

/// A bare panel with a good supply whose every count is changed by `share(t)`, t from 0 to 1 over
/// the dump.
Diagnosis changing(const std::function<double(double)>& share) {
  std::vector<Record> records = support::records_of("bare-glass");
  std::uint64_t end_us = 1;
  for (const Record& r : records)
    if (const auto* frame = std::get_if<FrameRecord>(&r)) end_us = frame->t_us;
  std::vector<Record> out;
  for (Record& r : records) {
    if (std::holds_alternative<JournalRecord>(r) || std::holds_alternative<ContactsRecord>(r))
      continue;
    if (auto* frame = std::get_if<FrameRecord>(&r)) {
      const double t = static_cast<double>(frame->t_us) / static_cast<double>(end_us);
      for (std::uint16_t& v : frame->raw)
        v = static_cast<std::uint16_t>(std::lround(v * (1.0 + share(t))));
    }
    out.push_back(std::move(r));
    if (out.size() == 1) {
      SupplyRecord good;
      good.millivolts = 3700;
      out.emplace_back(good);
    }
  }
  support::RecordListReader reader(std::move(out));
  return diagnose(replay(reader, "changing", {}));
}

TEST(CoverOfAllTheGlass, IsToldByTheStepOfAllNodes) {
  const Diagnosis d = changing([](double t) { return t > 0.5 ? -0.1 : 0.0; });
  const CauseFound& first = d.causes.front();
  EXPECT_EQ(first.cause, Cause::grounded_film) << name_of(first.cause);
  ASSERT_TRUE(first.has_place);
  EXPECT_EQ(first.box.row0, 0);
  EXPECT_EQ(first.box.col0, 0);
  EXPECT_GT(first.box.row1, 10);
  EXPECT_GT(first.first_us, 500000u);
}

TEST(PanelThatWarmsUp, IsNoCover) {
  const Diagnosis d = changing([](double t) { return 0.006 * t; });
  for (const CauseFound& c : d.causes) EXPECT_FALSE(c.has_place) << name_of(c.cause);
}

// What is within the range of references is told only as why the device refused its glass.
TEST(PanelInAnotherRoom, IsHealthyAndToldAsItsTemperatureIfThatMadeTheDeviceRefuse) {
  for (const double gain : {1.015, 0.985}) {
    const Diagnosis d = bare_with([&](double v) { return gain * v; });
    ASSERT_EQ(d.causes.size(), 1u) << gain;
    EXPECT_EQ(d.causes.front().cause, Cause::temperature) << gain;
    EXPECT_NE(d.causes.front().sureness, Sureness::sure) << gain;
    // A film over all of the glass reads the same, so nobody may be told that the glass is clean.
    EXPECT_THAT(d.answer, testing::Not(testing::HasSubstr("not something on the glass"))) << gain;
    EXPECT_THAT(d.answer, testing::HasSubstr("look at it all the same")) << gain;
  }
  for (const double gain : {1.003, 0.997})
    EXPECT_EQ(bare_with([&](double v) { return gain * v; }).causes.front().cause, Cause::bare_glass)
        << gain;
}

// As much of a finger as this, standing still at every second node of a third of the glass, is made
// by nothing that the panel's model knows.
TEST(StrangeThing, IsToldAsSomethingAlsoWithoutAReference) {
  std::vector<Record> records = support::records_of("bare-glass");
  std::vector<Record> out;
  Shape shape{};
  for (Record& r : records) {
    if (std::holds_alternative<JournalRecord>(r) || std::holds_alternative<ContactsRecord>(r) ||
        std::holds_alternative<ReferenceRecord>(r))
      continue;
    if (const auto* panel = std::get_if<PanelDescription>(&r)) shape = {panel->rows, panel->cols};
    if (auto* frame = std::get_if<FrameRecord>(&r))
      for (int row = 3; row < shape.rows - 3; ++row)
        for (int col = 3; col < shape.cols - 3; ++col)
          if ((row + col) % 2 == 0) {
            std::uint16_t& v = frame->raw[static_cast<std::size_t>(row * shape.cols + col)];
            v = static_cast<std::uint16_t>(v * (col % 3 == 0 ? 0.86 : 1.10));
          }
    out.push_back(std::move(r));
  }
  support::RecordListReader reader(std::move(out));
  const Diagnosis d = diagnose(replay(reader, "strange", {}));
  EXPECT_TRUE(std::any_of(d.causes.begin(), d.causes.end(), [](const CauseFound& c) {
    return c.has_place;
  })) << name_of(d.causes.front().cause);
}

/// A scenario whose frames and reference another converter counted: `empty` without charge, and
/// from there up or, `rises`, down.
Diagnosis counted(const char* scenario, double empty, bool rises) {
  std::vector<Record> records = support::records_of(scenario);
  const auto turn = [&](std::uint16_t& v) {
    v = static_cast<std::uint16_t>(std::clamp(rises ? empty - v : empty + v, 0.0, 65535.0));
  };
  for (Record& r : records) {
    if (auto* frame = std::get_if<FrameRecord>(&r))
      for (std::uint16_t& v : frame->raw) turn(v);
    if (auto* reference = std::get_if<ReferenceRecord>(&r))
      for (std::uint16_t& v : reference->raw) turn(v);
    if (auto* panel = std::get_if<PanelDescription>(&r)) panel->counts_rise = rises;
  }
  support::RecordListReader reader(std::move(records));
  return diagnose(replay(reader, scenario, {}));
}

TEST(BrokenLines, AreToldWhereverTheConverterCountsFrom) {
  for (const double empty : {40000.0, 50000.0, 60000.0}) {
    EXPECT_EQ(counted("worn-tail", empty, true).causes.front().cause, Cause::worn_tail) << empty;
    EXPECT_EQ(counted("impact-crack", empty, true).causes.front().cause, Cause::crack) << empty;
  }
  for (const double empty : {0.0, 10000.0, 20000.0})
    EXPECT_EQ(counted("impact-crack", empty, false).causes.front().cause, Cause::crack) << empty;
}

}  // namespace
}  // namespace bareglass::host
