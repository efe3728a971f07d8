#include "bareglass/fleet/fleet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <exception>
#include <filesystem>
#include <map>
#include <mutex>
#include <set>
#include <thread>

#include "bareglass/answer/cause_group.hpp"
#include "bareglass/capture/error.hpp"
#include "bareglass/plain/harmless.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

namespace {

namespace fs = std::filesystem;

bool is_dump(const fs::path& file) {
  static const std::set<std::string> kEndings = {".frames", ".csv",  ".npy", ".td16",
                                                 ".td08",   ".tu16", ".tu08"};
  return kEndings.count(file.extension().string()) != 0;
}

// Names of the regular files, sorted, so that the same folder gives the same report.
std::vector<std::string> files_in(const std::string& folder) {
  std::error_code error;
  std::vector<std::string> names;
  fs::directory_iterator it(folder, error);
  for (; !error && it != fs::directory_iterator(); it.increment(error)) {
    std::error_code ignored;
    const std::string name = it->path().filename().string();
    if (it->is_regular_file(ignored) && name.front() != '.' && name != "units.csv")
      names.push_back(name);
  }
  if (error)
    throw CaptureError(folder, "", fmt::format("expected a folder of dumps ({})", error.message()));
  std::sort(names.begin(), names.end());
  return names;
}

std::string base_of(const std::string& folder) {
  return folder.empty() || folder.back() == '/' ? folder : folder + "/";
}

class Builder {
 public:
  explicit Builder(std::string folder) { fleet_.folder = std::move(folder); }

  void take_rows(std::vector<UnitRow> rows, const std::vector<std::string>& files) {
    for (UnitRow& row : rows) {
      if (!row.dump.empty()) by_dump_[row.dump] = row.unit;
      expect_dump(row, files);
      by_unit_[row.unit].row = std::move(row);
    }
  }

  void take_dump(FleetDump dump) {
    if (!dump.error.empty()) {
      fleet_.unreadable.push_back(std::move(dump));
      return;
    }
    // As it is shown, and as read_units gives it: the two must meet.
    dump.unit = plain::harmless(dump.unit);
    const std::string unit = unit_of(dump);
    note_contradiction(dump, unit);
    if (!by_unit_[unit].row) fleet_.without_row.push_back(dump.file);
    if (!dump.states_finger) ++fleet_.finger_not_stated;
    by_unit_[unit].dumps.push_back(std::move(dump));
  }
  void leave_out(const std::string& file) { fleet_.left_out.push_back(file); }

  Fleet finish() {
    for (auto& [name, unit] : by_unit_) {
      unit.unit = name;
      if (unit.dumps.empty()) {
        fleet_.without_dump.push_back(*unit.row);
        continue;
      }
      conclude(unit);
      fleet_.units.push_back(std::move(unit));
    }
    count_causes();
    count_wards();
    count_off();
    count_taped();
    return std::move(fleet_);
  }

 private:
  std::string unit_of(const FleetDump& dump) const {
    if (const auto named = by_dump_.find(dump.file); named != by_dump_.end()) return named->second;
    const std::string stem = fs::path(dump.file).stem().string();
    if (!dump.unit.empty()) {
      const bool known = by_unit_.count(dump.unit) != 0 || by_unit_.count(stem) == 0;
      return known ? dump.unit : stem;
    }
    return stem;
  }

  // A dump that a row names and that is not there is one that can't be read.
  void expect_dump(const UnitRow& row, const std::vector<std::string>& files) {
    if (row.dump.empty()) return;
    const bool there = std::binary_search(files.begin(), files.end(), row.dump);
    if (there && is_dump(row.dump)) return;
    FleetDump missing;
    missing.file = row.dump;
    missing.error =
        fmt::format("units.csv, line {}: expected {}", row.line,
                    there ? "a dump by its ending" : "a file of this name in the folder");
    fleet_.unreadable.push_back(std::move(missing));
  }

  void note_contradiction(const FleetDump& dump, const std::string& unit) {
    if (dump.unit.empty() || dump.unit == unit || !by_unit_[unit].row) return;
    fleet_.contradictions.push_back(
        fmt::format("{} says it is of unit {}; counted for {} as line {} of units.csv says",
                    dump.file, dump.unit, unit, by_unit_[unit].row->line));
  }

  static void conclude(FleetUnit& unit) {
    const auto weight = [](const FleetDump& d) {
      const bool finding = group_of(d.cause) != CauseGroup::none;
      return std::make_tuple(d.start_up == StartUp::failed, d.start_up == StartUp::adopted, finding,
                             d.confidence);
    };
    const auto top = std::max_element(
        unit.dumps.begin(), unit.dumps.end(),
        [&](const FleetDump& x, const FleetDump& y) { return weight(x) < weight(y); });
    unit.cause = top->cause;
    unit.confidence = top->confidence;
    const auto any = [&](StartUp s) {
      return std::any_of(unit.dumps.begin(), unit.dumps.end(),
                         [&](const FleetDump& d) { return d.start_up == s; });
    };
    unit.start_up = any(StartUp::failed)    ? StartUp::failed
                    : any(StartUp::adopted) ? StartUp::adopted
                    : any(StartUp::on)      ? StartUp::on
                                            : StartUp::unknown;
  }

  void count_causes() {
    std::map<Cause, std::uint32_t> counts;
    for (const FleetUnit& u : fleet_.units) ++counts[u.cause];
    const auto all = static_cast<std::uint32_t>(fleet_.units.size());
    for (const auto& [cause, n] : counts)
      fleet_.causes.push_back({cause, {n, all, wilson(n, all)}});
    std::stable_sort(fleet_.causes.begin(), fleet_.causes.end(),
                     [](const auto& x, const auto& y) { return x.second.hits > y.second.hits; });
  }

  void count_wards() {
    std::map<std::string, Share> wards;
    for (const FleetUnit& u : fleet_.units) {
      if (!u.row || u.start_up == StartUp::unknown) continue;
      Share& share = wards[u.row->ward];
      share.hits += u.start_up == StartUp::failed;
      ++share.of;
    }
    for (auto& [ward, share] : wards) {
      share.interval = wilson(share.hits, share.of);
      fleet_.wards.emplace_back(ward, share);
    }
  }

  void count_off() {
    std::map<OffBecause, std::uint32_t> counts;
    std::uint32_t all = 0;
    for (const FleetUnit& u : fleet_.units) {
      if (u.start_up != StartUp::failed) continue;
      ++counts[off_because(u.cause)];
      ++all;
    }
    for (const auto& [why, n] : counts) fleet_.off.push_back({why, {n, all, wilson(n, all)}});
    std::stable_sort(fleet_.off.begin(), fleet_.off.end(),
                     [](const auto& x, const auto& y) { return x.second.hits > y.second.hits; });
  }

  void count_taped() {
    for (const FleetUnit& u : fleet_.units) {
      fleet_.adopted += u.start_up == StartUp::adopted;
      if (!u.row) continue;
      const bool failed = u.start_up == StartUp::failed;
      if (u.start_up == StartUp::unknown)
        ++fleet_.outcome_unknown;
      else if (u.row->taped == Taped::yes)
        ++(failed ? fleet_.table.a : fleet_.table.b);
      else if (u.row->taped == Taped::no)
        ++(failed ? fleet_.table.c : fleet_.table.d);
      else
        ++(failed ? fleet_.taped_unknown_failed : fleet_.taped_unknown_on);
    }
    fleet_.fisher = fisher_exact(fleet_.table);
    fleet_.odds = odds_ratio(fleet_.table);
  }

  Fleet fleet_;
  std::map<std::string, FleetUnit> by_unit_;
  std::map<std::string, std::string> by_dump_;
};

FleetDump read_one(const std::string& base, const std::string& file, const ReadDump& read) {
  FleetDump dump;
  try {
    dump = read(base + file, file);
  } catch (const CaptureError& e) {
    dump.error = e.place().empty() ? e.expected() : e.place() + ": " + e.expected();
  }
  dump.file = file;
  return dump;
}

/// In the order of `files`.
std::vector<FleetDump> read_all(const std::vector<std::string>& files, const std::string& base,
                                const ReadDump& read, const FleetOptions& options) {
  std::vector<FleetDump> out(files.size());
  std::atomic<std::size_t> next{0};
  std::size_t done = 0;
  std::exception_ptr trouble;
  std::mutex lock;  // of what is done and of trouble
  const auto work = [&] {
    try {
      for (std::size_t n = next++; n < files.size(); n = next++) {
        out[n] = read_one(base, files[n], read);
        const std::lock_guard<std::mutex> hold(lock);
        ++done;
        if (options.progress) options.progress(done, files.size());
      }
    } catch (...) {
      const std::lock_guard<std::mutex> hold(lock);
      if (!trouble) trouble = std::current_exception();
      next = files.size();
    }
  };
  const std::size_t threads =
      std::clamp<std::size_t>(static_cast<std::size_t>(std::max(1, options.threads)), 1,
                              std::max<std::size_t>(1, files.size()));
  std::vector<std::thread> others;
  for (std::size_t t = 1; t < threads; ++t) others.emplace_back(work);
  work();
  for (std::thread& t : others) t.join();
  if (trouble) std::rethrow_exception(trouble);
  return out;
}

}  // namespace

const char* name_of(StartUp start_up) {
  static constexpr const char* kNames[] = {"on", "failed", "unknown", "adopted"};
  return kNames[static_cast<int>(start_up)];
}

const char* name_of(OffBecause why) {
  static constexpr const char* kNames[] = {"glass", "lines",  "temperature",
                                           "noise", "supply", "other"};
  return kNames[static_cast<int>(why)];
}

OffBecause off_because(Cause cause) {
  switch (cause) {
    case Cause::temperature:
    case Cause::aged_reference:
      return OffBecause::temperature;
    case Cause::interference:
    case Cause::common_mode:
      return OffBecause::noise;
    case Cause::floating_ground:
    case Cause::supply_sag:
      return OffBecause::supply;
    default:
      break;
  }
  switch (group_of(cause)) {
    case CauseGroup::glass:
      return OffBecause::glass;
    case CauseGroup::lines:
      return OffBecause::lines;
    default:
      return OffBecause::other;
  }
}

StartUp start_up_of(const Account& account) {
  if (account.kind != DumpKind::from_power_up) return StartUp::unknown;
  StartUp all = StartUp::unknown;
  bool deciding = false;  // between a power-up and the decision that follows it
  for (const JournalEntry& e : account.events) {
    switch (e.code) {
      case JournalCode::power_up:
        deciding = true;
        break;
      case JournalCode::input_off:
      case JournalCode::waiting:
      case JournalCode::service_entered:
        if (deciding) return StartUp::failed;
        break;
      case JournalCode::adopted:
        if (deciding) all = StartUp::adopted;
        deciding = false;
        break;
      case JournalCode::input_on:
        if (all == StartUp::unknown) all = StartUp::on;
        deciding = false;
        break;
      default:
        break;
    }
  }
  return all;
}

std::vector<std::string> fleet_inputs(const std::string& folder) {
  const std::string base = base_of(folder);
  std::vector<std::string> paths = {base + "units.csv"};
  for (const std::string& file : files_in(folder))
    if (is_dump(file)) paths.push_back(base + file);
  return paths;
}

Fleet read_fleet(const std::string& folder, const ReadDump& read, const FleetOptions& options) {
  Builder builder(folder);
  const std::vector<std::string> files = files_in(folder);
  const std::string base = base_of(folder);
  builder.take_rows(read_units(base + "units.csv"), files);
  std::vector<std::string> dumps;
  for (const std::string& file : files) {
    if (is_dump(file))
      dumps.push_back(file);
    else
      builder.leave_out(file);
  }
  // Taken in the order of their names, whichever was read first.
  for (FleetDump& dump : read_all(dumps, base, read, options)) builder.take_dump(std::move(dump));
  return builder.finish();
}

}  // namespace bareglass::host
