#pragma once
// What `view` and `bench` share: size, scale, screenshot, frame times, touch plan.

#include <fmt/format.h>
#include <boost/program_options.hpp>

#include <optional>
#include <string>
#include <vector>

#include "bareglass/view/shell.hpp"
#include "cli.hpp"

namespace bareglass::tools {

/// --size, --scale, --screenshot, --frame-times, --plan.
boost::program_options::options_description window_options();

/// The window they ask for; `otherwise` names its size where --size is not given. Hidden for
/// --screenshot and --frame-times. Throws CommandLineError for a value out of place.
view::ShellOptions window_of(const boost::program_options::variables_map& given,
                             view::ShellOptions otherwise);

/// The value of `option`. Throws CommandLineError unless it is within the two.
template <typename T>
T within(const boost::program_options::variables_map& given, const char* option, T low, T high) {
  const T value = given[option].as<T>();
  if (!(value >= low && value <= high))
    throw CommandLineError(fmt::format("--{} expects {} to {}, not {}", option, low, high, value));
  return value;
}

/// The place of `word` among `words`, which are all that `option` takes. Throws CommandLineError.
std::size_t choice(const std::string& option, const std::string& word,
                   const std::vector<std::string>& words);

/// The plan file of --plan; empty if not given. Read once, so that a wrong one is told before a
/// window opens. Throws host::CaptureError.
std::string plan_file(const boost::program_options::variables_map& given);

/// Draws what --screenshot and --frame-times ask for. `about`: what was drawn, for the line of
/// frame times.
void draw_hidden(view::Shell& shell, view::Page& page,
                 const boost::program_options::variables_map& given, const std::string& about);

}  // namespace bareglass::tools
