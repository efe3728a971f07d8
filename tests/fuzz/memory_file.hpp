#pragma once
// A file that lives in memory, for readers that take a path.

#include <sys/mman.h>
#include <unistd.h>

#include <cstdint>
#include <string>

#include "fuzz_bytes.hpp"

namespace bareglass::fuzz {

class MemoryFile {
 public:
  MemoryFile(const std::uint8_t* data, std::size_t size) : fd_(::memfd_create("fuzz", 0)) {
    require(fd_ >= 0, "a file in memory can be made");
    require(::write(fd_, data, size) == static_cast<ssize_t>(size), "it takes the input");
  }
  ~MemoryFile() { ::close(fd_); }
  MemoryFile(const MemoryFile&) = delete;
  MemoryFile& operator=(const MemoryFile&) = delete;

  std::string path() const { return "/proc/self/fd/" + std::to_string(fd_); }

 private:
  int fd_;
};

}  // namespace bareglass::fuzz
