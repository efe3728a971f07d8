// bareglass record: from the unit to a file, watched while it comes.

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstdio>
#include <filesystem>
#include <sstream>

#include "bareglass/capture/recorder.hpp"
#include "bareglass/plain/harmless.hpp"
#include "cli.hpp"
#include "commands.hpp"
#include "counted_list.hpp"
#include "finger_options.hpp"
#include "live_judge.hpp"
#include "record_options.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

volatile std::sig_atomic_t g_stop_recording = 0;

void stop_at_recording_signals() {
  struct sigaction action {};
  action.sa_handler = [](int) { g_stop_recording = 1; };
  sigemptyset(&action.sa_mask);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) sigaction(signal, &action, nullptr);
}

/// Events as lines and, on a terminal, one line below them that changes.
class Ticker {
 public:
  Ticker() : terminal_(::isatty(STDERR_FILENO) != 0) {}
  ~Ticker() { clear(); }
  Ticker(const Ticker&) = delete;
  Ticker& operator=(const Ticker&) = delete;

  void say(const std::string& sentence) {
    clear();
    std::fprintf(stderr, "%s\n", plain::harmless(sentence).c_str());
    std::fflush(stderr);
  }
  void show(const std::string& line) {
    if (!terminal_) return;
    std::fprintf(stderr, "\r%s\x1b[K", plain::harmless(line).c_str());
    std::fflush(stderr);
    shown_ = true;
  }

 private:
  void clear() {
    if (shown_) std::fputs("\r\x1b[K", stderr);
    shown_ = false;
  }
  bool terminal_;
  bool shown_ = false;
};

/// The recording as it grows, to its end.
class GrowingSource final : public host::ByteSource {
 public:
  GrowingSource(const std::string& path, const host::Recorder& recorder,
                std::function<void(const host::Recorder::Status&)> tick)
      : fd_(::open(path.c_str(), O_RDONLY | O_CLOEXEC)),
        recorder_(recorder),
        tick_(std::move(tick)) {}
  ~GrowingSource() override {
    if (fd_ >= 0) ::close(fd_);
  }
  GrowingSource(const GrowingSource&) = delete;
  GrowingSource& operator=(const GrowingSource&) = delete;

  std::size_t read(std::uint8_t* to, std::size_t most) override {
    constexpr int kTickMs = 200;
    for (;;) {
      const host::Recorder::Status status = recorder_.wait_beyond(at_, kTickMs);
      tick_(status);
      const ssize_t got = ::pread(fd_, to, most, static_cast<off_t>(at_));
      if (got > 0) {
        at_ += static_cast<std::uint64_t>(got);
        return static_cast<std::size_t>(got);
      }
      if (got < 0 && errno != EINTR) return 0;
      if (status.end != host::Recorder::End::none) return 0;
    }
  }

 private:
  int fd_;
  const host::Recorder& recorder_;
  std::function<void(const host::Recorder::Status&)> tick_;
  std::uint64_t at_ = 0;
};

/// True once Enter was pressed; only if standard input is a terminal of its own.
bool enter_pressed() {
  pollfd keys{STDIN_FILENO, POLLIN, 0};
  char line[256];
  return ::poll(&keys, 1, 0) > 0 && (keys.revents & POLLIN) != 0 &&
         ::read(STDIN_FILENO, line, sizeof line) > 0;
}

class RecordingRun {
 public:
  RecordingRun(host::Recorder& recorder, const std::string& file,
               const host::ReplayOptions& options, bool keys)
      : recorder_(recorder),
        file_(file),
        keys_(keys),
        judge_(options, [this](const std::string& sentence) { ticker_.say(sentence); }) {}

  void run(const std::string& about) {
    ticker_.say(fmt::format("Recording to {} from {}.", file_, about));
    ticker_.say(fmt::format("Switch the unit on now. {} stops.",
                            keys_ ? "Enter or Ctrl+C" : "The interrupt signal (Ctrl+C)"));
    host::OpenOptions options;
    options.format = host::CaptureFormat::frames;
    auto source = std::make_unique<GrowingSource>(
        file_, recorder_, [this](const host::Recorder::Status& status) { tick(status); });
    try {
      const auto reader = host::open_capture(std::move(source), file_, options);
      reader_ = reader.get();
      host::Record record;
      while (reader->next(record)) judge_.take(record);
      stats_ = reader->stats();
    } catch (const host::CaptureError&) {
      // No packet: finish() says what it may be.
    }
    reader_ = nullptr;
  }

  int finish() {
    const host::Recorder::Status status = recorder_.status();
    if (status.bytes == 0) {
      std::error_code none;
      std::filesystem::remove(file_, none);
      warn(
          fmt::format("{}: nothing arrived, so nothing was kept. Is the unit on, the cable right, "
                      "--baud as the unit sends?",
                      file_));
      return status.end == host::Recorder::End::failed ? kUnwritableOutput : kUnreadableInput;
    }
    print(summary(status));
    if (status.end != host::Recorder::End::failed) return kDone;
    warn(fmt::format("{}: {}", file_, status.problem));
    return kUnwritableOutput;
  }

 private:
  void tick(const host::Recorder::Status& status) {
    if (g_stop_recording != 0 || (keys_ && enter_pressed())) recorder_.stop();
    if (status.losses > losses_) {
      losses_ = status.losses;
      ticker_.say("The port went away. Waiting for it to come back.");
    }
    if (status.connected && !connected_) ticker_.say("The port is back.");
    connected_ = status.connected;
    constexpr std::uint64_t kHintBytes = 4096;
    const bool nothing_whole = reader_ != nullptr && reader_->stats().packets == 0;
    if (!hinted_ && nothing_whole && status.bytes > kHintBytes) {
      hinted_ = true;
      ticker_.say(
          "Bytes arrive, but no whole packet yet. If the unit sends packets, check --baud.");
    }
    ticker_.show(line(status));
  }

  std::string line(const host::Recorder::Status& status) const {
    std::string text = fmt::format("{:.1f} s, {} bytes",
                                   static_cast<double>(recorder_.age_ms()) / 1e3, status.bytes);
    if (judge_.frames() == 0) return text + ", no frames yet: switch the unit on";
    add_part(text, fmt::format("{} frames", judge_.frames()));
    if (judge_.rate() > 0) add_part(text, fmt::format("{:.1f} a second", judge_.rate()));
    if (reader_ != nullptr) {
      add_count(text, reader_->stats().damaged_packets, "damaged packets");
      add_count(text, reader_->stats().frames_missing, "frames missing");
    }
    if (!status.connected) add_part(text, "PORT GONE");
    add_part(text, judge_.state());
    return text;
  }

  std::string summary(const host::Recorder::Status& status) const {
    std::string text = fmt::format("Saved: {}\n", plain::harmless(file_));
    if (stats_.packets == 0)
      return text + fmt::format(
                        "  {} bytes, no whole packet in them. If they are a table of "
                        "numbers, `bareglass convert {} --preview` shows how it is read.\n",
                        status.bytes, plain::harmless(file_));
    text += fmt::format("  {} frames, {} bytes", judge_.frames(), status.bytes);
    if (judge_.rate() > 0) text += fmt::format(", {:.1f} frames a second", judge_.rate());
    text += "\n  damage: ";
    std::string damage = damage_list(stats_);
    add_count(damage, stats_.frames_missing, "frames missing");
    if (losses_ > 0) add_count(damage, losses_, "times the port went away");
    text += damage.empty() ? "none" : damage;
    text +=
        fmt::format("\n  power-up: {}\n",
                    judge_.power_ups() > 0
                        ? fmt::format("{} in the recording", judge_.power_ups())
                        : "not in the recording; for a start-up, begin to record and then switch "
                          "the unit on");
    if (judge_.judging() || !judge_.state().empty())
      text += fmt::format("  at the end: {}\n", judge_.state());
    return text;
  }

  host::Recorder& recorder_;
  std::string file_;
  bool keys_;
  Ticker ticker_;
  LiveJudge judge_;
  const host::CaptureReader* reader_ = nullptr;
  host::CaptureStats stats_;
  unsigned losses_ = 0;
  bool connected_ = true, hinted_ = false;
};

po::options_description own_recording_options() {
  po::options_description options("What to record");
  options.add_options()("output,o", po::value<std::string>()->value_name("DUMP"),
                        "file to keep it in; it must not be there yet");
  options.add(live_options());
  options.add_options()("for", po::value<std::string>()->value_name("TIME"),
                        "stop so long after the first byte, e.g. 10s")(
      "most", po::value<std::string>()->value_name("SIZE"), "stop at this size, e.g. 200MB")(
      "how", po::bool_switch(), "print the page on how to capture a start-up");
  return options;
}

std::string record_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass record SOURCE -o DUMP [options]\n\n"
         "Keeps what a unit sends, byte for byte, and shows meanwhile how many frames come, what "
         "is\n"
         "damaged or missing and what the core says. Begin before the unit is switched on.\n"
         "SOURCE is a serial port (/dev/ttyUSB0), - for standard input, a FIFO, tcp:HOST:PORT, or "
         "a\n"
         "touch device of the Linux kernel (/dev/v4l-touch0). A port that is unplugged is waited "
         "for.\n"
         "All that was read is in the file at once, even if this program is "
         "killed.\n\n"
      << options;
  return out.str();
}

}  // namespace

int run_record(int argc, const char* const* argv) {
  po::options_description options;
  options.add(own_recording_options()).add(finger_options());
  const po::variables_map given = parse(argc, argv, options, {"SOURCE"});
  if (given.count("help")) {
    print(record_help(options));
    return kDone;
  }
  if (given["how"].as<bool>()) {
    print(capture_page());
    return kDone;
  }
  const std::string source = required(given, "SOURCE");
  if (!given.count("output")) throw CommandLineError("expected -o DUMP, the file to record to");
  const std::string file = given["output"].as<std::string>();
  const host::RecordLimits limits = record_limits(given);
  const host::ReplayOptions replaying = replay_options(given);
  stop_at_recording_signals();
  auto live = host::open_live(source, live_options_of(given));
  const std::string about = live->about();
  host::Recorder recorder(std::move(live), file, limits);
  RecordingRun run(recorder, file, replaying, source != "-" && ::isatty(STDIN_FILENO) != 0);
  run.run(about);
  recorder.stop();
  return run.finish();
}

}  // namespace bareglass::tools
