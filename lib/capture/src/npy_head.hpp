#pragma once
// The head of a NumPy .npy file ("NPY format", NumPy Enhancement Proposal 1 and numpy.lib.format).

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace bareglass::host {

/// What a head says; frames x rows x cols, C order.
struct NpyHead {
  std::uint64_t frames = 0;
  int rows = 0, cols = 0;
  int bytes = 2;  ///< of a sample: 1 or 2
  bool is_signed = false;
};

/// Magic, version and length: what must be read to know how long the head is.
constexpr std::size_t kNpyPreambleBytes = 12;

/// Bytes of the whole head, from the first kNpyPreambleBytes of a file; 0 if it is no .npy of
/// version 1, 2 or 3, or the head is longer than 64 KiB.
std::size_t npy_head_bytes(const std::uint8_t* preamble);

/// Reads the dictionary of a head. Throws std::runtime_error that says what was expected.
NpyHead parse_npy_dictionary(std::string_view dictionary);

/// Where the dictionary begins: 10 in version 1, 12 later.
std::size_t npy_dictionary_offset(const std::uint8_t* preamble);

/// A version 1 head of kNpyHeadBytes, whatever the count of frames, so that it can be rewritten
/// when the count is known.
constexpr std::size_t kNpyHeadBytes = 128;
std::string npy_head_text(const NpyHead& head);

}  // namespace bareglass::host
