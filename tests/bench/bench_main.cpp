// Runs every registered benchmark, then puts the results beside their budgets, one line each:
//   budget NAME VALUE UNIT at-most|at-least LIMIT
// which tools/budgets.sh takes into its table. Exit code 1 if a benchmark failed, 2 if a budget is
// missed.
#include <benchmark/benchmark.h>

#include <cstdio>
#include <map>
#include <string>
#include <vector>

namespace {

/// Medians by benchmark name.
struct Results {
  /// Processor time of one iteration: what other programs take of the machine does not count.
  std::map<std::string, double> microseconds;
  std::map<std::string, double> megabytes_per_second;  ///< where SetBytesProcessed was called
  bool failed = false;
};

enum class Bound { at_most, at_least };

struct Budget {
  const char* name;    ///< of the line
  const char* source;  ///< benchmark that is measured
  const char* rival;   ///< benchmark to divide by; nullptr for an absolute figure
  bool throughput;     ///< MB/s instead of microseconds
  Bound bound;
  double limit;
};

// A budget of a new benchmark is one more line here; `throughput` needs SetBytesProcessed.
constexpr Budget kBudgets[] = {
    {"step_72x41_idle", "engine_step/rows:72/cols:41/touches:0", nullptr, false, Bound::at_most,
     20},
    {"step_72x41_2_contacts", "engine_step/rows:72/cols:41/touches:2", nullptr, false,
     Bound::at_most, 20},
    {"step_72x41_10_contacts", "engine_step/rows:72/cols:41/touches:10", nullptr, false,
     Bound::at_most, 20},
    {"step/OpenCV_72x41_idle", "engine_step/rows:72/cols:41/touches:0",
     "opencv_step/rows:72/cols:41/touches:0", false, Bound::at_most, 1},
    {"step/OpenCV_72x41_2_contacts", "engine_step/rows:72/cols:41/touches:2",
     "opencv_step/rows:72/cols:41/touches:2", false, Bound::at_most, 1},
    {"step/OpenCV_72x41_10_contacts", "engine_step/rows:72/cols:41/touches:10",
     "opencv_step/rows:72/cols:41/touches:10", false, Bound::at_most, 1},
    {"explain_40x24_idle_MB/s", "explain_dump/rows:40/cols:24/touches:0", nullptr, true,
     Bound::at_least, 200},
    {"explain_40x24_2_contacts_MB/s", "explain_dump/rows:40/cols:24/touches:2", nullptr, true,
     Bound::at_least, 200},
    {"simulated_frame_40x24_5_objects", "simulated_frame/moving:1", nullptr, false, Bound::at_most,
     1000},
    {"simulated_frame_40x24_5_moving", "simulated_frame_all_moving/company:0", nullptr, false,
     Bound::at_most, 1000},
    {"simulated_frame_40x24_5_moving_close", "simulated_frame_all_moving/company:1", nullptr, false,
     Bound::at_most, 1000},
    {"simulated_frame_40x24_5_sliding", "simulated_frame_all_moving/company:2", nullptr, false,
     Bound::at_most, 1000},
};

// Keeps the figures while the usual table is printed.
class Collector : public benchmark::ConsoleReporter {
 public:
  Collector() : ConsoleReporter(OO_Tabular) {}

  void ReportRuns(const std::vector<Run>& runs) override {
    ConsoleReporter::ReportRuns(runs);
    for (const Run& run : runs) {
      results_.failed = results_.failed || run.error_occurred;
      if (run.error_occurred) continue;
      if (run.run_type == Run::RT_Aggregate && run.aggregate_name != "median") continue;
      const std::string name = run.run_name.str();
      results_.microseconds[name] =
          run.GetAdjustedCPUTime() / benchmark::GetTimeUnitMultiplier(run.time_unit) * 1e6;
      const auto bytes = run.counters.find("bytes_per_second");
      if (bytes != run.counters.end())
        results_.megabytes_per_second[name] = bytes->second.value / 1e6;
    }
  }
  const Results& results() const { return results_; }

 private:
  Results results_;
};

// Looks the figure up; false if its benchmark did not run.
bool figure_of(double& figure, const Budget& budget, const Results& results) {
  const auto& column = budget.throughput ? results.megabytes_per_second : results.microseconds;
  const auto source = column.find(budget.source);
  if (source == column.end()) return false;
  figure = source->second;
  if (budget.rival == nullptr) return true;
  const auto rival = column.find(budget.rival);
  if (rival == column.end()) return false;
  figure /= rival->second;
  return true;
}

// One line per budget whose benchmarks ran; true if all of them hold.
bool report_budgets(const Results& results) {
  bool hold = true;
  for (const Budget& budget : kBudgets) {
    double figure = 0;
    if (!figure_of(figure, budget, results)) {
      std::printf("not measured: %s\n", budget.name);
      continue;
    }
    const bool at_most = budget.bound == Bound::at_most;
    const char* unit = budget.rival != nullptr ? "ratio" : (budget.throughput ? "MB/s" : "us");
    std::printf("budget %s %.2f %s %s %g\n", budget.name, figure, unit,
                at_most ? "at-most" : "at-least", budget.limit);
    hold = hold && (at_most ? figure <= budget.limit : figure >= budget.limit);
  }
  return hold;
}

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 1;
  Collector collector;
  benchmark::RunSpecifiedBenchmarks(&collector);
  benchmark::Shutdown();
  const bool hold = report_budgets(collector.results());
  if (collector.results().failed) return 1;
  return hold ? 0 : 2;
}
