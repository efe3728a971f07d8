#include "cli.hpp"

#include <fmt/format.h>
#include <signal.h>
#include <unistd.h>

#include <charconv>
#include <chrono>
#include <cstdio>
#include <cstdlib>

#include "bareglass/capture/import_profile.hpp"
#include "bareglass/capture/output_file.hpp"
#include "bareglass/plain/harmless.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

// A number with the unit us, ms or s, in microseconds; negative if it is not one.
double microseconds_of(const std::string& text) {
  double value = 0;
  const char* last = text.data() + text.size();
  const auto [end, error] = std::from_chars(text.data(), last, value);
  if (error != std::errc()) return -1.0;
  const std::string unit(end, last);
  return unit == "us" ? value : unit == "ms" ? value * 1e3 : unit == "s" ? value * 1e6 : -1.0;
}

}  // namespace

std::uint32_t parse_duration_us(const std::string& text, const std::string& option) {
  const double us = microseconds_of(text);
  if (!(us >= 1.0 && us <= 60e6))
    throw CommandLineError(fmt::format(
        "{} expects a time from 1us to 60s such as 8ms, 8000us or 0.008s, not '{}'", option, text));
  return static_cast<std::uint32_t>(us + 0.5);
}

std::uint64_t parse_time_us(const std::string& text, const std::string& option) {
  const double us = microseconds_of(text);
  if (!(us >= 0.0 && us <= 1e12))
    throw CommandLineError(fmt::format(
        "{} expects a time from 0s to 1000000s such as 1500ms or 250us, not '{}'", option, text));
  return static_cast<std::uint64_t>(us + 0.5);
}

po::options_description reading_options() {
  po::options_description o("How to read the dump");
  o.add_options()(
      "format", po::value<std::string>()->value_name("NAME"),
      fmt::format("format of the dump, where its content does not tell: {}", host::format_names())
          .c_str())("rows", po::value<int>()->value_name("N"),
                    "rows (driven lines) of a frame, for formats that do not say")(
      "columns", po::value<int>()->value_name("N"), "columns (sensed lines) of a frame, likewise")(
      "frame-period", po::value<std::string>()->value_name("TIME"),
      "time between frames, e.g. 8ms, for formats without time stamps")(
      "values", po::value<std::string>()->value_name("KIND"),
      "what the numbers are: raw or difference")(
      "skip-bad", po::bool_switch(),
      "leave out and count lines that can't be read instead of stopping")(
      "profile", po::value<std::string>()->value_name("NAME"),
      "of a table of numbers: read it as kept under this name, or in this file (.toml); "
      "`bareglass convert --help` lists all options for tables");
  return o;
}

namespace {

std::string option_name(std::string name) {
  for (char& c : name)
    if (c == '_') c = '-';
  return name;
}

// A profile gives what the command line leaves open.
void take_table_options(host::OpenOptions& o, const po::variables_map& given) {
  for (const host::ImportSetting& setting : host::import_settings()) {
    const std::string option = option_name(setting.name);
    if (!given.count(option)) continue;
    try {
      host::set_import(o, setting.name, given[option].as<std::string>());
    } catch (const host::ImportValueError& e) {
      const std::string expected = std::string(e.what()).substr(std::string(setting.name).size());
      throw CommandLineError("--" + option + expected);
    }
  }
  if (given.count("profile"))
    host::take_profile(o, host::profile_path(given["profile"].as<std::string>()));
}

}  // namespace

po::options_description table_options() {
  po::options_description o("How to read a table of numbers");
  for (const host::ImportSetting& setting : host::import_settings())
    o.add_options()(option_name(setting.name).c_str(),
                    po::value<std::string>()->value_name(setting.values), setting.help);
  return o;
}

host::OpenOptions open_options(const po::variables_map& given) {
  host::OpenOptions o;
  if (given.count("format")) {
    const std::string name = given["format"].as<std::string>();
    o.format = host::format_of_name(name);
    if (!o.format)
      throw CommandLineError(
          fmt::format("--format expects one of {}, not '{}'", host::format_names(), name));
  }
  const auto lines = [&](const char* name, int& field) {
    if (!given.count(name)) return;
    field = given[name].as<int>();
    if (field < 1 || field > host::kMaxCaptureLines)
      throw CommandLineError(fmt::format("--{} expects a number from 1 to {}, not {}", name,
                                         host::kMaxCaptureLines, field));
  };
  lines("rows", o.rows);
  lines("columns", o.cols);
  if (given.count("frame-period"))
    o.frame_period_us =
        parse_duration_us(given["frame-period"].as<std::string>(), "--frame-period");
  if (given.count("values")) {
    const std::string kind = given["values"].as<std::string>();
    if (kind != "raw" && kind != "difference")
      throw CommandLineError(fmt::format("--values expects raw or difference, not '{}'", kind));
    o.values = kind == "raw" ? host::FrameKind::raw : host::FrameKind::difference;
  }
  o.lenient = given["skip-bad"].as<bool>();
  take_table_options(o, given);
  return o;
}

po::variables_map parse(int argc, const char* const* argv, const po::options_description& options,
                        const std::vector<std::string>& positional) {
  return parse_with_rest(argc, argv, options, positional, {});
}

po::variables_map parse_with_rest(int argc, const char* const* argv,
                                  const po::options_description& options,
                                  const std::vector<std::string>& positional,
                                  const std::string& rest) {
  po::options_description all;
  all.add(options);
  all.add_options()("help,h", "show this help");
  po::positional_options_description words;
  po::options_description hidden;
  const bool reads = options.find_nothrow("skip-bad", false) != nullptr;
  if (reads && options.find_nothrow("order", false) == nullptr) hidden.add(table_options());
  for (const std::string& name : positional) {
    words.add(name.c_str(), 1);
    hidden.add_options()(name.c_str(), po::value<std::string>());
  }
  if (!rest.empty()) {
    words.add(rest.c_str(), -1);
    hidden.add_options()(rest.c_str(), po::value<std::vector<std::string>>());
  }
  all.add(hidden);
  // Abbreviated options are not guessed at.
  constexpr int kStyle =
      po::command_line_style::default_style & ~po::command_line_style::allow_guessing;
  po::variables_map given;
  try {
    po::store(
        po::command_line_parser(argc, argv).options(all).positional(words).style(kStyle).run(),
        given);
    po::notify(given);
  } catch (const po::error& e) {
    throw CommandLineError(e.what());
  }
  return given;
}

std::string required(const po::variables_map& given, const std::string& name) {
  if (!given.count(name))
    throw CommandLineError(fmt::format("expected {} on the command line", name));
  return given[name].as<std::string>();
}

bool colour_wanted() {
  const char* no_color = std::getenv("NO_COLOR");
  return isatty(STDOUT_FILENO) != 0 && (no_color == nullptr || *no_color == '\0');
}

void clean_up_at_signals() {
  struct sigaction action {};
  action.sa_handler = [](int signal) {
    host::remove_unfinished_outputs();
    // Ended by the signal, as the shell expects.
    ::signal(signal, SIG_DFL);
    ::raise(signal);
  };
  sigemptyset(&action.sa_mask);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
    struct sigaction before {};
    // nohup and the like ignore a signal, and mean it.
    if (::sigaction(signal, nullptr, &before) == 0 && before.sa_handler != SIG_IGN)
      ::sigaction(signal, &action, nullptr);
  }
}

void print(const std::string& text) { write_file("-", text); }

void say_reading(const host::CaptureReader& reader) {
  if (reader.reading().understood.empty()) return;
  std::string text = "read as";
  for (const std::string& sentence : reader.reading().understood)
    text += (text == "read as" ? ": " : "; ") + sentence;
  warn(text);
}

void warn(const std::string& text) {
  std::fprintf(stderr, "bareglass: %s\n", plain::harmless(text).c_str());
}

namespace {

std::int64_t now_ms() {
  using namespace std::chrono;
  return duration_cast<milliseconds>(steady_clock::now().time_since_epoch()).count();
}

}  // namespace

void write_file(const std::string& path, const std::string& bytes) {
  host::OutputFile file(path);
  file.write(bytes);
  file.finish();
}

Progress::Progress(const host::CaptureReader& reader)
    : reader_(reader), enabled_(isatty(STDERR_FILENO) != 0), next_ms_(now_ms() + 500) {}

Progress::~Progress() {
  if (shown_) std::fputs("\r\x1b[K", stderr);
}

void Progress::update(std::uint64_t frames) {
  if (!enabled_ || now_ms() < next_ms_) return;
  next_ms_ = now_ms() + 200;
  shown_ = true;
  const auto total = reader_.bytes_total();
  const std::string share = total && *total > 0
                                ? fmt::format(" ({} %)", 100 * reader_.bytes_read() / *total)
                                : std::string();
  std::fputs(fmt::format("\r{} frames read{}\x1b[K", frames, share).c_str(), stderr);
  std::fflush(stderr);
}

CountProgress::CountProgress() : enabled_(isatty(STDERR_FILENO) != 0), next_ms_(now_ms() + 500) {}

CountProgress::~CountProgress() {
  if (shown_) std::fputs("\r\x1b[K", stderr);
}

void CountProgress::update(std::size_t done, std::size_t all) {
  if (!enabled_ || now_ms() < next_ms_) return;
  next_ms_ = now_ms() + 200;
  shown_ = true;
  std::fputs(fmt::format("\r{} of {} dumps read\x1b[K", done, all).c_str(), stderr);
  std::fflush(stderr);
}

}  // namespace bareglass::tools
