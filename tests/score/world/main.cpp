// Judges the diagnosis on units drawn without gaps between the kinds of things.
//
//   bareglass_judge [--cases N] [--seed S] [--world 1|2] [--threads T] [--healthy] [--kind K]
//                   [--list-wrong] [--shipped-panels] [--kernels FOLDER] [--panels FOLDER]
//                   [--save FILE.frames] [--floor-right SHARE] [--most-alarms SHARE]
//                   [--floor-sure SHARE] [--floor-kind SHARE]
//                   [--floor-area SHARE] [--most-centre MM]
//
// World 1 is the simulator's own physics under every disturbance of a real unit. World 2 is the
// same with errors of the model, ragged outlines, other noise and things that no hypothesis has.
// Seeds below 1000000 are for tuning; those from 1000000 on are for judgement and must never be
// looked at while the diagnosis is worked on. --save writes the dump of the one case. Panels that
// do not ship with kernels are solved on first use and kept in the folder of --kernels. With floors
// the exit code is 1 if one is not reached, which is said.

#include <fmt/format.h>

#include <cstdio>
#include <exception>
#include <stdexcept>

#include "bareglass/capture/writer.hpp"
#include "panels.hpp"
#include "tally.hpp"
#include "unit.hpp"

namespace {

using namespace bareglass;

struct Options {
  int cases = 200;
  std::uint64_t seed = 1;
  int threads = 1;
  bool list_wrong = false;
  std::string kernels = BAREGLASS_SCORE_KERNELS;
  std::string panels = BAREGLASS_PANEL_FOLDER;
  std::string save;
  double floor_right = 0.0, most_alarms = 1.0, floor_sure = 0.0, floor_kind = 0.0;
  double floor_area = 0.0, most_centre_mm = 1e9;
  world::DrawOptions draw;
};

world::Kind kind_of(const std::string& name) {
  std::string known;
  for (int k = 0; k < world::kKindCount; ++k) {
    const auto kind = static_cast<world::Kind>(k);
    if (name == world::name_of(kind)) return kind;
    known += std::string(known.empty() ? "" : ", ") + world::name_of(kind);
  }
  throw std::runtime_error("--kind " + name + ": expected one of " + known);
}

/// A whole number, all of the text.
template <typename Number, typename Parse>
Number number(const std::string& key, const std::string& text, Parse parse) {
  std::size_t used = 0;
  try {
    const Number value = static_cast<Number>(parse(text, &used));
    if (used == text.size()) return value;
  } catch (const std::logic_error&) {
    // Told below.
  }
  throw std::runtime_error(key + " " + text + ": expected a number");
}

int whole(const std::string& key, const std::string& text, int low, int high) {
  const int value = number<int>(key, text, [](const auto& t, auto* u) { return std::stoi(t, u); });
  if (value < low || value > high)
    throw std::runtime_error(fmt::format("{} {}: expected {} to {}", key, text, low, high));
  return value;
}

double share(const std::string& key, const std::string& text) {
  const double value =
      number<double>(key, text, [](const auto& t, auto* u) { return std::stod(t, u); });
  if (!(value >= 0 && value <= 1)) throw std::runtime_error(key + " " + text + ": expected 0 to 1");
  return value;
}

/// True if `key` is one that stands alone.
bool take_flag(Options& o, const std::string& key) {
  if (key == "--healthy")
    o.draw.only_healthy = true;
  else if (key == "--list-wrong")
    o.list_wrong = true;
  else if (key == "--shipped-panels")
    o.draw.shipped_panels = true;
  else
    return false;
  return true;
}

void take_value(Options& o, const std::string& key, const std::string& value) {
  if (key == "--cases")
    o.cases = whole(key, value, 1, 1000000);
  else if (key == "--seed")
    o.seed =
        number<std::uint64_t>(key, value, [](const auto& t, auto* u) { return std::stoull(t, u); });
  else if (key == "--world")
    o.draw.world = whole(key, value, 1, 2);
  else if (key == "--threads")
    o.threads = whole(key, value, 1, 256);
  else if (key == "--kind")
    o.draw.only = kind_of(value);
  else if (key == "--kernels")
    o.kernels = value;
  else if (key == "--panels")
    o.panels = value;
  else if (key == "--save")
    o.save = value;
  else if (key == "--floor-right")
    o.floor_right = share(key, value);
  else if (key == "--most-alarms")
    o.most_alarms = share(key, value);
  else if (key == "--floor-sure")
    o.floor_sure = share(key, value);
  else if (key == "--floor-area")
    o.floor_area = share(key, value);
  else if (key == "--most-centre")
    o.most_centre_mm = whole(key, value, 1, 1000);
  else if (key == "--floor-kind")
    o.floor_kind = share(key, value);
  else
    throw std::runtime_error(key + ": expected one of the options named at the top of " __FILE__);
}

Options parse(int argc, char** argv) {
  Options o;
  for (int k = 1; k < argc; ++k) {
    const std::string key = argv[k];
    if (take_flag(o, key)) continue;
    if (k + 1 >= argc) throw std::runtime_error(key + ": expected a value");
    take_value(o, key, argv[++k]);
  }
  if (!o.save.empty() && o.cases != 1)
    throw std::runtime_error("--save: expected --cases 1, since a file holds one dump");
  if (o.draw.only_healthy && o.draw.only)
    throw std::runtime_error("--healthy and --kind: expected one of them");
  return o;
}

void save(const Options& o) {
  const auto writer = host::create_capture(o.save, host::CaptureFormat::frames);
  for (const host::Record& record : world::play(world::draw_case(o.seed, o.draw)))
    writer->write(record);
  writer->finish();
}

int judge(const Options& o) {
  world::keep_in(o.kernels, o.panels);
  if (!o.save.empty()) save(o);
  const auto verdicts = world::judge_cases(o.seed, o.cases, o.threads, o.draw);
  if (o.list_wrong) fmt::print("{}\n", world::list_wrong(verdicts, o.draw));
  if (o.cases == 1)
    fmt::print("said: {}\nput: {}\n", verdicts[0].said,
               verdicts[0].healthy ? "nothing" : verdicts[0].wanted);
  const world::Tally tally(verdicts);
  fmt::print("{}", tally.text);
  bool low = false;
  const auto floor = [&](double is, double least, const char* what) {
    if (is >= least) return;
    fmt::print("{}: {:.2f} %, floor {:.2f} %\n", what, 100 * is, 100 * least);
    low = true;
  };
  floor(tally.right_share, o.floor_right, "right first");
  floor(1 - tally.alarm_share, 1 - o.most_alarms, "healthy and told nothing");
  floor(tally.sure_share, o.floor_sure, "told as sure and right");
  floor(tally.worst_kind, o.floor_kind, "worst kind");
  floor(tally.area_share, o.floor_area, "areas within 20 %");
  if (tally.centre_mm > o.most_centre_mm) {
    fmt::print("centres within {:.2f} mm (95 %), at most {:.2f} mm\n", tally.centre_mm,
               o.most_centre_mm);
    low = true;
  }
  return low ? 1 : 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return judge(parse(argc, argv));
  } catch (const std::exception& e) {
    fmt::print(stderr, "bareglass_judge: {}\n", e.what());
    return 2;
  }
}
