// bareglass info: what a dump is.

#include <sstream>

#include "capture_summary.hpp"
#include "cli.hpp"
#include "commands.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

std::string info_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass info DUMP [options]\n\n"
         "Tells what a dump is: format, panel, frames, duration, rate, gaps, damage, values.\n"
         "DUMP is a file, a device, or - for standard input.\n\n"
      << options;
  return out.str();
}

CaptureSummary summarise(host::CaptureReader& reader) {
  CaptureSummary summary;
  Progress progress(reader);
  host::Record record;
  for (std::uint64_t records = 0; reader.next(record); ++records) {
    summary.take(record);
    if (records % 256 == 0) progress.update(reader.stats().frames);
  }
  return summary;
}

}  // namespace

int run_info(int argc, const char* const* argv) {
  po::options_description options("What to tell");
  options.add_options()("json", po::bool_switch(), "print one JSON document instead of text");
  options.add(reading_options());
  const po::variables_map given = parse(argc, argv, options, {"DUMP"});
  if (given.count("help")) {
    print(info_help(options));
    return kDone;
  }
  const std::string path = required(given, "DUMP");
  const auto reader = host::open_capture(path, open_options(given));
  say_reading(*reader);
  const CaptureSummary summary = summarise(*reader);
  const std::string name = host::shown_name(path, "standard input");
  print(given["json"].as<bool>() ? summary_json(name, summary, *reader)
                                 : summary_text(name, summary, *reader, colour_wanted()));
  return kDone;
}

}  // namespace bareglass::tools
