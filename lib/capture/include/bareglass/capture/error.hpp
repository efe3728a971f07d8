#pragma once
// The one way in which reading or writing a capture fails.

#include <stdexcept>
#include <string>

namespace bareglass::host {

/// what() reads "FILE: PLACE: EXPECTED" as one line that is safe to show (plain/harmless.hpp); the
/// parts are as they were given.
class CaptureError : public std::runtime_error {
 public:
  /// `file`: path, "standard input" or "standard output"; `place`: "byte 17", "line 3" or empty;
  /// `expected`: what should have been there, and what was found.
  CaptureError(std::string file, std::string place, std::string expected);

  const std::string& file() const { return file_; }
  const std::string& place() const { return place_; }
  const std::string& expected() const { return expected_; }

 private:
  std::string file_, place_, expected_;
};

/// Thrown in place of CaptureError by a CaptureWriter: the output could not be written.
class CaptureWriteError : public CaptureError {
 public:
  using CaptureError::CaptureError;
};

}  // namespace bareglass::host
