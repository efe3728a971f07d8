// bareglass COMMAND ...: finds the command and turns every failure into one line and an exit code.
#include <fmt/format.h>

#include <csignal>
#include <cstdio>
#include <exception>
#include <string>

#include "bareglass/capture/error.hpp"
#include "bareglass/field/panel_spec.hpp"
#include "cli.hpp"
#include "commands.hpp"

namespace {

using namespace bareglass;

struct Command {
  const char* name;
  const char* help;
  tools::Run run;
  bool window = false;  ///< ends in its own way at a signal, and what it records is then whole
};

// A new command is one line here and one in commands.hpp.
constexpr Command kCommands[] = {
    {"explain", "why a panel switched its input off, with evidence and next steps",
     tools::run_explain},
    {"info", "what a dump is: format, panel, frames, gaps, damage", tools::run_info},
    {"compare", "before against after: what changed; accepted or not, by stated limits",
     tools::run_compare},
    {"touchtest", "points and lines drawn on the glass: accuracy, straightness, dead nodes",
     tools::run_touchtest},
    {"fleet", "many units: causes, wards, and whether taping goes with failures", tools::run_fleet},
    {"record", "keeps what a unit sends in a file, watched while it comes", tools::run_record,
     true},
    {"convert", "writes a dump in another format; imports tables of numbers", tools::run_convert},
    {"simulate", "plays a scenario on a simulated panel and writes the dump", tools::run_simulate},
    {"view", "shows a dump in a window: the glass, the timeline, why input is off", tools::run_view,
     true},
    {"bench", "a live simulated panel in a window, and lessons", tools::run_bench, true},
    {"field", "capacitances of a panel from its layers and electrodes", tools::run_field},
};

std::string usage() {
  std::string text =
      "bareglass: why a capacitive touch panel switched its input off\n\nusage: bareglass COMMAND "
      "...\n\n";
  for (const Command& c : kCommands) text += fmt::format("  {:<10} {}\n", c.name, c.help);
  text +=
      "\n  --help     this text; `bareglass COMMAND --help` tells more\n"
      "  --version  version of this program\n\n"
      "exit codes: 0 done, 1 a limit was not kept (compare, touchtest), 2 wrong command line,\n"
      "            3 unreadable input, 4 output can't be written, 5 a defect of this program\n";
  return text;
}

int run(int argc, const char* const* argv) {
  const std::string word = argc > 1 ? argv[1] : "";
  if (word == "--help" || word == "-h" || word == "help") {
    tools::print(usage());
    return tools::kDone;
  }
  if (word == "--version") {
    tools::print(fmt::format("bareglass {}\n", BAREGLASS_VERSION));
    return tools::kDone;
  }
  for (const Command& c : kCommands)
    if (word == c.name) {
      if (!c.window) tools::clean_up_at_signals();
      return c.run(argc - 1, argv + 1);
    }
  throw tools::CommandLineError(
      word.empty() ? "expected a command; `bareglass --help` lists them"
                   : fmt::format("unknown command '{}'; `bareglass --help` lists them", word));
}

int fail(int code, const char* what) {
  tools::warn(what);
  return code;
}

}  // namespace

int main(int argc, char** argv) {
  // A reader that goes away is an error to be told, not a reason to vanish.
  std::signal(SIGPIPE, SIG_IGN);
  // So is a file that may not grow any further.
  std::signal(SIGXFSZ, SIG_IGN);
  try {
    return run(argc, argv);
  } catch (const tools::CommandLineError& e) {
    return fail(tools::kWrongCommandLine, e.what());
  } catch (const host::CaptureWriteError& e) {
    return fail(tools::kUnwritableOutput, e.what());
  } catch (const host::CaptureError& e) {
    return fail(tools::kUnreadableInput, e.what());
  } catch (const field::PanelError& e) {
    return fail(tools::kUnreadableInput, e.what());
  } catch (const std::bad_alloc&) {
    return fail(tools::kUnreadableInput, "not enough memory for this input");
  } catch (const std::exception& e) {
    return fail(tools::kInternal, e.what());
  }
}
