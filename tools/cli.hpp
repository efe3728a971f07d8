#pragma once
// What every command shares: exit codes, options that say how to read a dump, output that notices
// when nobody takes it.

#include <boost/program_options.hpp>
#include <cstdint>
#include <stdexcept>
#include <string>

#include "bareglass/capture/reader.hpp"

namespace bareglass::tools {

/// Exit codes, documented in `bareglass --help`.
enum ExitCode : int {
  kDone = 0,
  kRejected = 1,  ///< read and judged, and a limit was not kept
  kWrongCommandLine = 2,
  kUnreadableInput = 3,  ///< missing, damaged beyond use, or not what it should be
  kUnwritableOutput = 4,
  kInternal = 5,  ///< a defect of this program
};

/// The command line can't be understood; what() says what was expected.
class CommandLineError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

using Run = int (*)(int argc, const char* const* argv);

/// "8ms", "8000us", "0.008s" in microseconds. Throws CommandLineError unless 1 us to 60 s.
std::uint32_t parse_duration_us(const std::string& text, const std::string& option);

/// The same for a point in time: 0s to 1000000s.
std::uint64_t parse_time_us(const std::string& text, const std::string& option);

/// Options that say how to read a dump: --format, --rows, --columns, --frame-period, --values,
/// --skip-bad, --profile.
boost::program_options::options_description reading_options();
/// Options that say how to read a table of numbers. Every command that takes reading_options()
/// takes these, too; only `convert` lists them.
boost::program_options::options_description table_options();
/// What both ask for. Throws CommandLineError for a value out of place, CaptureError for a profile
/// that can't be read.
host::OpenOptions open_options(const boost::program_options::variables_map& given);

/// Parses `argv` (without the command's own name); positional words fill `positional` in order.
/// Adds --help. Throws CommandLineError, also for more words than positions.
boost::program_options::variables_map parse(
    int argc, const char* const* argv, const boost::program_options::options_description& options,
    const std::vector<std::string>& positional);
/// The same, with any number of words after those: a vector of strings under the name `rest`.
boost::program_options::variables_map parse_with_rest(
    int argc, const char* const* argv, const boost::program_options::options_description& options,
    const std::vector<std::string>& positional, const std::string& rest);
/// The value of a positional word that must be there. Throws CommandLineError.
std::string required(const boost::program_options::variables_map& given, const std::string& name);

/// True if standard output is a terminal and NO_COLOR is unset or empty (no-color.org convention).
bool colour_wanted();

/// From now on the interrupt, termination and hang-up signals take what is half written with them
/// when they end this program.
void clean_up_at_signals();

/// Writes to standard output and flushes. Throws CaptureWriteError if not all of it was taken.
void print(const std::string& text);

/// Says on standard error how a table of numbers was read; nothing of other formats.
void say_reading(const host::CaptureReader& reader);

/// One line on standard error, for what is no failure. Names and arguments in it do no harm.
void warn(const std::string& text);

/// Writes a whole file under a temporary name beside it and renames it. Throws CaptureWriteError.
void write_file(const std::string& path, const std::string& bytes);

/// A line on standard error that says how far reading has come; only on a terminal, only now and
/// then.
class Progress {
 public:
  explicit Progress(const host::CaptureReader& reader);
  ~Progress();
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  void update(std::uint64_t frames);

 private:
  const host::CaptureReader& reader_;
  bool enabled_;
  bool shown_ = false;
  std::int64_t next_ms_ = 0;
};

/// How many of many files are read, on a terminal and once it takes longer than half a second.
class CountProgress {
 public:
  CountProgress();
  ~CountProgress();
  CountProgress(const CountProgress&) = delete;
  CountProgress& operator=(const CountProgress&) = delete;
  void update(std::size_t done, std::size_t all);

 private:
  bool enabled_;
  bool shown_ = false;
  std::int64_t next_ms_ = 0;
};

}  // namespace bareglass::tools
