#include "record_options.hpp"

#include <fmt/format.h>

#include <charconv>

#include "cli.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

std::uint64_t parse_size(const std::string& text) {
  double number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  const std::string unit(end, text.data() + text.size());
  const double factor = unit == "kB" ? 1e3 : unit == "MB" ? 1e6 : unit == "GB" ? 1e9 : 0.0;
  if (error == std::errc() && factor > 0 && number * factor >= 1 && number * factor <= 1e15)
    return static_cast<std::uint64_t>(number * factor);
  throw CommandLineError(
      fmt::format("--most expects a size such as 500kB, 200MB or 2GB, not '{}'", text));
}

}  // namespace

po::options_description live_options() {
  po::options_description options;
  options.add_options()("baud", po::value<int>()->value_name("RATE")->default_value(115200),
                        "of a serial port, bits a second");
  return options;
}

host::LiveOptions live_options_of(const po::variables_map& given) {
  host::LiveOptions options;
  options.baud = given["baud"].as<int>();
  if (!host::is_live_baud(options.baud))
    throw CommandLineError(
        fmt::format("--baud expects one of {}, not {}", host::live_bauds(), options.baud));
  return options;
}

host::RecordLimits record_limits(const po::variables_map& given) {
  host::RecordLimits limits;
  if (given.count("for")) {
    limits.time_us = parse_time_us(given["for"].as<std::string>(), "--for");
    if (*limits.time_us == 0) throw CommandLineError("--for expects a time above zero");
  }
  if (given.count("most")) limits.bytes = parse_size(given["most"].as<std::string>());
  return limits;
}

}  // namespace bareglass::tools
