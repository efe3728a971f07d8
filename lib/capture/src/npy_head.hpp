#pragma once
// The head of a NumPy .npy file ("NPY format", NumPy Enhancement Proposal 1 and numpy.lib.format).

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace bareglass::host {

/// One element of an array.
struct SampleType {
  int bytes = 2;  ///< 1, 2, 4 or 8
  bool is_signed = false;
  bool is_float = false;
  bool big_endian = false;
};

/// What a head says: frames x rows x cols, or with rows 0 the two sizes of a table.
struct NpyHead {
  std::uint64_t frames = 0;  ///< the first size
  int rows = 0, cols = 0;
  std::uint64_t width = 0;  ///< of two sizes, the second
  SampleType type;
  bool columns_first = false;  ///< Fortran order
};

/// The element at `bytes`. Precondition: it lies there whole. What has no value reads as NaN.
double sample_in(const std::uint8_t* bytes, const SampleType& type);

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
