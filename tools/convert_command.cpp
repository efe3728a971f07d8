// bareglass convert: from one capture format to another.

#include <fmt/format.h>

#include <csignal>
#include <cstdio>
#include <sstream>

#include "bareglass/capture/writer.hpp"
#include "cli.hpp"
#include "commands.hpp"
#include "counted_list.hpp"
#include "files_apart.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

/// --to, or what the name ends in.
host::CaptureFormat output_format(const po::variables_map& given, const std::string& output) {
  const std::size_t dot = output.rfind('.');
  const bool told = given.count("to") != 0;
  const std::string name = told ? given["to"].as<std::string>()
                                : (dot == std::string::npos ? "" : output.substr(dot + 1));
  if (const auto format = host::format_of_name(name)) return *format;
  throw CommandLineError(
      told ? fmt::format("--to expects one of {}, not '{}'", host::format_names(), name)
           : fmt::format("the name '{}' does not tell a format; name it with --to: {}", output,
                         host::format_names()));
}

void report_losses(const host::WriterLosses& losses, host::CaptureFormat format) {
  std::string list;
  add_count(list, losses.descriptions, "panel descriptions");
  add_count(list, losses.references, "factory references");
  add_count(list, losses.contacts, "contact reports");
  add_count(list, losses.journal_entries, "journal entries");
  add_count(list, losses.supply_states, "supply states");
  add_count(list, losses.notes, "notes");
  add_count(list, losses.frames_other_kind, "frames of the other kind");
  add_count(list, losses.frames_other_shape, "frames of another shape");
  if (losses.time_stamps) add_part(list, "time stamps");
  if (!list.empty())
    warn(fmt::format("{} can't hold, and left out: {}", host::format_name(format), list));
}

void report_damage(const host::CaptureStats& stats) {
  const std::string list = damage_list(stats);
  if (!list.empty()) warn("in the input: " + list);
}

volatile std::sig_atomic_t g_stop = 0;

/// From now on the interrupt and termination signals end the input. Without SA_RESTART, so that a
/// read that waits comes back.
void stop_at_signals() {
  struct sigaction action {};
  action.sa_handler = [](int) { g_stop = 1; };
  sigemptyset(&action.sa_mask);
  for (const int signal : {SIGINT, SIGTERM}) sigaction(signal, &action, nullptr);
}

/// A device is read until the interrupt, and what was read is whole; of a file that was cut short
/// by it, nothing shall remain.
void copy(host::CaptureWriter& writer, host::CaptureReader& reader, const std::string& output) {
  Progress progress(reader);
  host::Record record;
  for (std::uint64_t records = 0; reader.next(record); ++records) {
    writer.write(record);
    if (records % 256 == 0) progress.update(reader.stats().frames);
  }
  if (g_stop != 0 && reader.bytes_total())
    throw host::CaptureWriteError(output, "", "interrupted; nothing was written");
}

std::string convert_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass convert DUMP OUTPUT [options]\n\n"
         "Reads a dump and writes it in another format. - is standard input or output. When a\n"
         "device is read, the interrupt key ends the dump and completes the output.\n\n"
      << options;
  return out.str();
}

}  // namespace

int run_convert(int argc, const char* const* argv) {
  po::options_description options("What to write");
  options.add_options()("to", po::value<std::string>()->value_name("NAME"),
                        fmt::format("format of the output: {}; without it, what its name ends in",
                                    host::format_names())
                            .c_str());
  options.add(reading_options());
  const po::variables_map given = parse(argc, argv, options, {"DUMP", "OUTPUT"});
  if (given.count("help")) {
    print(convert_help(options));
    return kDone;
  }
  const std::string input = required(given, "DUMP");
  const std::string output = required(given, "OUTPUT");
  const host::CaptureFormat format = output_format(given, output);
  expect_apart(files_of(given, {"DUMP"}), files_of(given, {"OUTPUT"}));
  stop_at_signals();
  const auto reader =
      host::open_capture(host::open_source(input, &g_stop),
                         host::shown_name(input, "standard input"), open_options(given));
  const auto writer = host::create_capture(output, format);
  copy(*writer, *reader, output);
  writer->finish();
  report_damage(reader->stats());
  report_losses(writer->losses(), format);
  return kDone;
}

}  // namespace bareglass::tools
