// What all nodes of a panel share: a level that is off, an offset of the converter.
#include <gtest/gtest.h>

#include <algorithm>
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

TEST(PanelInAnotherRoom, IsHealthy) {
  for (const double gain : {1.015, 0.985})
    EXPECT_EQ(bare_with([&](double v) { return gain * v; }).causes.front().cause, Cause::bare_glass)
        << gain;
}

}  // namespace
}  // namespace bareglass::host
