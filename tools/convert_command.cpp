// bareglass convert: from one capture format to another.

#include <fmt/format.h>

#include <csignal>
#include <cstdio>
#include <filesystem>
#include <sstream>

#include "bareglass/capture/damage_note.hpp"
#include "bareglass/capture/import_profile.hpp"
#include "bareglass/capture/writer.hpp"
#include "cli.hpp"
#include "commands.hpp"
#include "counted_list.hpp"
#include "files_apart.hpp"
#include "import_preview.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

/// --to, or what the name ends in.
host::CaptureFormat output_format(const po::variables_map& given, const std::string& output) {
  const std::size_t dot = output.rfind('.');
  const bool told = given.count("to") != 0;
  const std::string name = told ? given["to"].as<std::string>()
                                : (dot == std::string::npos ? "" : output.substr(dot + 1));
  const auto format = host::format_of_name(name);
  if (format && *format != host::CaptureFormat::table) return *format;
  throw CommandLineError(
      told ? fmt::format("--to expects one of {}, not '{}'", host::written_format_names(), name)
           : fmt::format("the name '{}' does not tell a format; name it with --to: {}", output,
                         host::written_format_names()));
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

/// What could not be read is told in the output where it is missing.
struct DamageKeeper {
  host::CaptureStats told;
  std::uint64_t t_us = 0;

  void keep(host::CaptureWriter& writer, const host::CaptureStats& now) {
    const bool same = now.lost_bytes == told.lost_bytes &&
                      now.unknown_kinds == told.unknown_kinds &&
                      now.malformed_lines == told.malformed_lines;
    if (same) return;
    if (const auto note = host::damage_note(told, now, t_us)) writer.write(*note);
    told = now;
  }
};

/// A device is read until the interrupt, and what was read is whole; of a file that was cut short
/// by it, nothing shall remain.
void copy(host::CaptureWriter& writer, host::CaptureReader& reader, const std::string& output) {
  Progress progress(reader);
  host::Record record;
  DamageKeeper damage;
  for (std::uint64_t records = 0; reader.next(record); ++records) {
    damage.keep(writer, reader.stats());
    writer.write(record);
    if (const auto* frame = std::get_if<host::FrameRecord>(&record)) damage.t_us = frame->t_us;
    if (records % 256 == 0) progress.update(reader.stats().frames);
  }
  damage.keep(writer, reader.stats());
  if (g_stop != 0 && reader.bytes_total())
    throw host::CaptureWriteError(output, "", "interrupted; nothing was written");
}

std::string convert_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass convert DUMP OUTPUT [options]\n"
         "       bareglass convert DUMP --preview [--picture FILE.svg] [options]\n\n"
         "Reads a dump and writes it in another format. - is standard input or output. When a\n"
         "device is read, the interrupt key ends the dump and completes the output.\n\n"
         "Tables of numbers (CSV and the like, or a folder with a file for each frame) are read "
         "as\n"
         "well. What a table does not tell is asked for with the option to add; --preview shows "
         "the\n"
         "first frames as maps, so that a turned panel is seen at once. --save-profile keeps the\n"
         "options under a name for --profile.\n\n"
      << options;
  return out.str();
}

}  // namespace

namespace {

int show_preview(const po::variables_map& given, const std::string& input,
                 const host::OpenOptions& reading) {
  const Preview preview = preview_of(input, reading);
  print(preview_text(preview, colour_wanted()));
  if (given.count("picture")) write_file(given["picture"].as<std::string>(), preview_svg(preview));
  return kDone;
}

void save_profile(const std::string& name, const host::OpenOptions& reading) {
  const std::string path = host::profile_path(name);
  std::error_code exists;
  const auto folder = std::filesystem::path(path).parent_path();
  if (!folder.empty()) std::filesystem::create_directories(folder, exists);
  write_file(path, host::profile_text(reading));
  warn("import profile kept in " + path);
}

po::options_description writing_options() {
  po::options_description options("What to write");
  options.add_options()("to", po::value<std::string>()->value_name("NAME"),
                        fmt::format("format of the output: {}; without it, what its name ends in",
                                    host::written_format_names())
                            .c_str())(
      "preview", po::bool_switch(),
      "write nothing; show what was understood and the first frames as maps")(
      "picture", po::value<std::string>()->value_name("FILE"),
      "the maps of --preview as a picture (.svg)")(
      "save-profile", po::value<std::string>()->value_name("NAME"),
      "keep the options that say how a table is read, for --profile NAME; a name, or a file "
      "(.toml)");
  return options;
}

}  // namespace

int run_convert(int argc, const char* const* argv) {
  po::options_description options;
  options.add(writing_options()).add(reading_options()).add(table_options());
  const po::variables_map given = parse(argc, argv, options, {"DUMP", "OUTPUT"});
  if (given.count("help")) {
    print(convert_help(options));
    return kDone;
  }
  const std::string input = required(given, "DUMP");
  const host::OpenOptions reading = open_options(given);
  expect_apart(files_of(given, {"DUMP"}), files_of(given, {"OUTPUT", "picture"}));
  if (given["preview"].as<bool>()) return show_preview(given, input, reading);
  const std::string output = required(given, "OUTPUT");
  const host::CaptureFormat format = output_format(given, output);
  stop_at_signals();
  std::error_code none;
  const std::string name = host::shown_name(input, "standard input");
  const auto reader = std::filesystem::is_directory(input, none)
                          ? host::open_capture(input, reading)
                          : host::open_capture(host::open_source(input, &g_stop), name, reading);
  const auto writer = host::create_capture(output, format);
  copy(*writer, *reader, output);
  writer->finish();
  say_reading(*reader);
  report_damage(reader->stats());
  report_losses(writer->losses(), format);
  if (given.count("save-profile")) save_profile(given["save-profile"].as<std::string>(), reading);
  return kDone;
}

}  // namespace bareglass::tools
