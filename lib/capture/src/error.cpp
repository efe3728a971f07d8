#include "bareglass/capture/error.hpp"

#include <utility>

#include "bareglass/plain/harmless.hpp"

namespace bareglass::host {

namespace {

std::string joined(const std::string& file, const std::string& place, const std::string& expected) {
  return plain::harmless(place.empty() ? file + ": " + expected
                                       : file + ": " + place + ": " + expected);
}

}  // namespace

CaptureError::CaptureError(std::string file, std::string place, std::string expected)
    : std::runtime_error(joined(file, place, expected)),
      file_(std::move(file)),
      place_(std::move(place)),
      expected_(std::move(expected)) {}

}  // namespace bareglass::host
