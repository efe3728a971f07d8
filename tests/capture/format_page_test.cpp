// The worked example of FORMAT.md is true: it decodes to what the page says, and our encoder writes
// it.

#include <gtest/gtest.h>

#include "support/capture_bytes.hpp"

namespace bareglass::host {
namespace {

using support::Bytes;

/// The lines between "```name" and "```".
std::vector<std::string> block(const std::string& name) {
  std::ifstream page(BAREGLASS_SOURCE_DIR "/lib/capture/FORMAT.md");
  std::vector<std::string> lines;
  bool inside = false;
  for (std::string line; std::getline(page, line);) {
    if (inside && line == "```") return lines;
    if (inside) lines.push_back(line);
    inside = inside || line == "```" + name;
  }
  return {};
}

Bytes hex_bytes() {
  Bytes bytes;
  for (const std::string& line : block("hex")) {
    std::istringstream in(line);
    for (std::string word; in >> word;)
      bytes.push_back(static_cast<std::uint8_t>(std::stoul(word, nullptr, 16)));
  }
  return bytes;
}

TEST(TheExampleOfTheFormatPage, DecodesToTheRecordsItShows) {
  ASSERT_EQ(block("records").size(), 3u);
  const auto reader = support::read_bytes(hex_bytes());
  EXPECT_EQ(support::all_of(*reader), block("records"));
  EXPECT_EQ(reader->stats().lost_bytes, 0u);
}

TEST(TheExampleOfTheFormatPage, IsWhatTheEncoderWrites) {
  std::vector<Record> records;
  const auto reader = support::read_bytes(hex_bytes());
  for (Record record; reader->next(record);) records.push_back(record);
  EXPECT_EQ(support::written_as(CaptureFormat::frames, records), hex_bytes());
}

}  // namespace
}  // namespace bareglass::host
