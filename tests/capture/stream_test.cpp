// The panel frame stream: read whole, in pieces, damaged in every place.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>

#include "bareglass/core/cbor_writer.hpp"
#include "bareglass/core/cobs.hpp"
#include "bareglass/core/crc32c.hpp"
#include "support/capture_bytes.hpp"

namespace bareglass::host {
namespace {

using support::all_of;
using support::Bytes;
using support::read_bytes;
using testing::ElementsAre;
using testing::HasSubstr;

OpenOptions as_frames() {
  OpenOptions options;
  options.format = CaptureFormat::frames;
  return options;
}

Bytes sample_stream() {
  static const Bytes stream = support::written_as(CaptureFormat::frames, support::sample_records());
  return stream;
}

std::vector<std::string> sample_texts() { return support::texts_of(support::sample_records()); }

/// A packet around any body.
Bytes packet_around(const std::function<void(CborWriter&)>& write) {
  Bytes body(600);
  CborWriter writer({body.data(), body.size() - 4});
  write(writer);
  const std::uint32_t crc = crc32c(kCrc32cStart, {body.data(), writer.size()});
  for (unsigned i = 0; i < 4; ++i)
    body[writer.size() + i] = static_cast<std::uint8_t>(crc >> (8 * i));
  Bytes packet(700);
  const CobsResult result =
      cobs_encode({packet.data(), packet.size()}, {body.data(), writer.size() + 4});
  packet.resize(result.size);
  packet.push_back(0);
  return packet;
}

Bytes operator+(Bytes a, const Bytes& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

void put_note(CborWriter& w, std::uint64_t t_us, const std::string& text) {
  w.map(3);
  for (const unsigned v : {0u, 8u, 2u}) w.unsigned_integer(v);
  w.unsigned_integer(t_us);
  w.unsigned_integer(26);
  w.text({text.data(), text.size()});
}

TEST(AStreamOfEveryRecord, IsReadAsItWasWritten) {
  const auto reader = read_bytes(sample_stream());
  EXPECT_EQ(reader->format(), CaptureFormat::frames);
  EXPECT_EQ(all_of(*reader), sample_texts());
  const CaptureStats& stats = reader->stats();
  EXPECT_EQ(stats.packets, sample_texts().size());
  EXPECT_EQ(stats.frames, 4u);
  EXPECT_EQ(stats.damaged_packets + stats.lost_bytes + stats.unknown_keys + stats.unknown_kinds,
            0u);
  EXPECT_EQ(stats.sequence_gaps + stats.time_gaps + stats.stamps_backward + stats.repeated_frames,
            0u);
  EXPECT_TRUE(stats.damage.empty());
  EXPECT_EQ(reader->bytes_read(), sample_stream().size());
}

TEST(AStreamSplitAtAnyByte, GivesTheSameRecords) {
  const Bytes stream = sample_stream();
  for (std::size_t first = 1; first <= stream.size(); ++first) {
    const auto reader = read_bytes(stream, as_frames(), first);
    ASSERT_EQ(all_of(*reader), sample_texts()) << "split at byte " << first;
  }
  for (std::size_t chunk = 1; chunk < 40; ++chunk) {
    const auto reader = read_bytes(stream, {}, chunk, chunk);
    ASSERT_EQ(all_of(*reader), sample_texts()) << "in pieces of " << chunk;
  }
}

/// The texts of the packets that a fault in bytes `at` leaves whole.
std::vector<std::string> untouched(const Bytes& stream, std::size_t at) {
  std::vector<std::string> texts = sample_texts();
  const auto places = support::packet_places(stream);
  for (std::size_t k = 0; k < places.size(); ++k)
    if (at >= places[k].first && at + 1 < places[k].second) {
      texts.erase(texts.begin() + static_cast<std::ptrdiff_t>(k));
      return texts;
    }
  return texts;  // an ending zero: no packet's content is touched
}

TEST(AStreamWithAnyBitFlipped, LosesThatPacketOnlyAndSaysSo) {
  const Bytes stream = sample_stream();
  for (std::size_t at = 0; at < stream.size(); ++at)
    for (unsigned bit = 0; bit < 8; ++bit) {
      const Bytes damaged = support::with_flipped(stream, at, static_cast<std::uint8_t>(1u << bit));
      const auto reader = read_bytes(damaged, as_frames());
      ASSERT_EQ(all_of(*reader), untouched(stream, at)) << "byte " << at << " bit " << bit;
      ASSERT_FALSE(reader->stats().damage.empty()) << "byte " << at << " bit " << bit;
      ASSERT_GT(reader->stats().lost_bytes, 0u) << "byte " << at << " bit " << bit;
      ASSERT_EQ(reader->bytes_read(), damaged.size());
    }
}

TEST(AStreamWithAnyByteReplaced, LosesThatPacketOnly) {
  const Bytes stream = sample_stream();
  for (std::size_t at = 0; at < stream.size(); ++at)
    for (const unsigned value : {0x00u, 0x01u, 0x02u, 0xFFu}) {
      if (stream[at] == value) continue;
      Bytes damaged = stream;
      damaged[at] = static_cast<std::uint8_t>(value);
      const auto reader = read_bytes(damaged, as_frames());
      ASSERT_EQ(all_of(*reader), untouched(stream, at)) << "byte " << at << " value " << value;
    }
}

TEST(AStreamCutAtAnyByte, GivesWhatIsWholeAndCountsTheRest) {
  const Bytes stream = sample_stream();
  const auto places = support::packet_places(stream);
  for (std::size_t cut = places[0].second; cut <= stream.size(); ++cut) {
    const auto reader = read_bytes(support::part_of(stream, 0, cut), as_frames());
    std::size_t whole = 0;
    // Without its zero a last packet is still whole.
    while (whole < places.size() && places[whole].second <= cut + 1) ++whole;
    auto expected = sample_texts();
    expected.resize(whole);
    ASSERT_EQ(all_of(*reader), expected) << "cut at " << cut;
    const std::size_t used = whole == 0 ? 0 : std::min(cut, places[whole - 1].second);
    ASSERT_EQ(reader->stats().lost_bytes, cut - used) << "cut at " << cut;
    ASSERT_EQ(reader->stats().damaged_packets, cut > used ? 1u : 0u) << "cut at " << cut;
  }
}

TEST(AStreamThatBeginsInTheMiddleOfAPacket, GivesAllLaterOnes) {
  const Bytes stream = sample_stream();
  const auto places = support::packet_places(stream);
  for (std::size_t begin = 1; begin < places[1].first; ++begin) {
    const auto reader = read_bytes(support::part_of(stream, begin, stream.size()));
    auto expected = sample_texts();
    expected.erase(expected.begin());
    ASSERT_EQ(all_of(*reader), expected) << "from byte " << begin;
    if (begin == places[0].second - 1) continue;  // only the zero is left of it
    ASSERT_EQ(reader->stats().damaged_packets, begin == places[0].second ? 0u : 1u);
    if (begin < places[0].second - 1) {
      EXPECT_THAT(reader->stats().damage[0].expected, HasSubstr("middle"));
    }
  }
}

TEST(AStreamWithoutOnePacket, GivesAllOthersAndCountsTheMissingFrame) {
  const Bytes stream = sample_stream();
  for (std::size_t k = 0; k < sample_texts().size(); ++k) {
    const auto reader = read_bytes(support::without_packet(stream, k));
    auto expected = sample_texts();
    expected.erase(expected.begin() + static_cast<std::ptrdiff_t>(k));
    ASSERT_EQ(all_of(*reader), expected) << "without packet " << k;
  }
}

FrameRecord frame_at(std::uint32_t sequence, std::uint64_t t_us) {
  FrameRecord frame;
  frame.sequence = sequence;
  frame.t_us = t_us;
  frame.rows = 1;
  frame.cols = 2;
  frame.raw = {1, 2};
  return frame;
}

TEST(FramesWithGaps, AreCountedBySequenceAndByTime) {
  PanelDescription panel;
  panel.rows = 1;
  panel.cols = 2;
  panel.frame_period_us = 1000;
  PanelDescription restarted = panel;
  restarted.power_up_us = 7;
  const Bytes stream = support::written_as(
      CaptureFormat::frames,
      {panel, frame_at(4294967295u, 1000), frame_at(0, 2000), frame_at(1, 3500),  // 1.5 periods
       frame_at(4, 5001), frame_at(4, 5001), frame_at(5, 4000), frame_at(2, 6000), restarted,
       frame_at(0, 10), frame_at(1, 1010)});
  const auto reader = read_bytes(stream);
  all_of(*reader);
  const CaptureStats& stats = reader->stats();
  EXPECT_EQ(stats.frames, 9u);
  EXPECT_EQ(stats.sequence_gaps, 1u);
  EXPECT_EQ(stats.frames_missing, 2u);
  EXPECT_EQ(stats.time_gaps, 2u);  // 3500 to 5001 and 4000 to 6000
  EXPECT_EQ(stats.repeated_frames, 1u);
  EXPECT_EQ(stats.stamps_backward, 1u);
  EXPECT_EQ(stats.sequence_restarts, 1u);
}

TEST(AStreamFromALaterVersion, IsReadAroundWhatIsUnknown) {
  const Bytes unknown_kind = packet_around([](CborWriter& w) {
    w.map(2);
    for (const unsigned v : {0u, 99u, 1000u, 1u}) w.unsigned_integer(v);
  });
  const Bytes unknown_keys = packet_around([](CborWriter& w) {
    w.map(6);
    for (const unsigned v : {0u, 8u, 2u, 5u, 26u}) w.unsigned_integer(v);
    w.text({"hello", 5});
    w.unsigned_integer(40);  // a nested value: {1: [2, "x", tag 3 (4)]}
    w.map(1);
    w.unsigned_integer(1);
    w.array(3);
    w.unsigned_integer(2);
    w.text({"x", 1});
    w.tag(3);
    w.unsigned_integer(4);
    w.unsigned_integer(18446744073709551615u);
    w.boolean(true);
    w.unsigned_integer(3);  // rows: known, but of no use in a note
    w.unsigned_integer(12);
  });
  const auto reader = read_bytes(unknown_kind + unknown_keys);
  EXPECT_THAT(all_of(*reader), ElementsAre("note at 5 [hello]"));
  EXPECT_EQ(reader->stats().packets, 2u);
  EXPECT_EQ(reader->stats().unknown_kinds, 1u);
  EXPECT_EQ(reader->stats().unknown_keys, 3u);
}

TEST(PacketsWhoseBodiesBreakTheGrammar, AreDamagedAndNamed) {
  const Bytes intact = packet_around([](CborWriter& w) { put_note(w, 1, "intact"); });
  const struct {
    const char* expected;
    std::function<void(CborWriter&)> write;
  } bad[] = {
      {"CBOR map", [](CborWriter& w) { w.array(0); }},
      {"packet kind", [](CborWriter& w) { w.map(0); }},
      {"CBOR map",
       [](CborWriter& w) {
         w.map(3);
         w.unsigned_integer(0);
         w.unsigned_integer(8);
       }},
      {"CBOR map",
       [](CborWriter& w) {
         put_note(w, 1, "x");
         w.boolean(true);
       }},
      {"CBOR map",
       [](CborWriter& w) {
         w.map(2);
         for (const unsigned v : {0u, 8u, 0u, 8u}) w.unsigned_integer(v);
       }},
      {"CBOR map",
       [](CborWriter& w) {
         w.map(1);
         w.boolean(true);
         w.unsigned_integer(8);
       }},
      {"time stamp",
       [](CborWriter& w) {
         w.map(1);
         w.unsigned_integer(0);
         w.unsigned_integer(8);
       }},
      {"UTF-8", [](CborWriter& w) { put_note(w, 1, "\xC0\x80"); }},
      {"UTF-8", [](CborWriter& w) { put_note(w, 1, "\xED\xA0\x80"); }},
      {"UTF-8", [](CborWriter& w) { put_note(w, 1, "\xE2\x82"); }},
      {"rows and columns",
       [](CborWriter& w) {
         w.map(3);
         for (const unsigned v : {0u, 1u, 3u, 0u, 4u, 5u}) w.unsigned_integer(v);
       }},
      {"rows and columns",
       [](CborWriter& w) {
         w.map(3);
         for (const unsigned v : {0u, 1u, 3u, 2u, 4u, 70000u}) w.unsigned_integer(v);
       }},
      {"uint16 array",
       [](CborWriter& w) {
         const std::uint16_t raw[] = {1, 2, 3};
         w.map(4);
         for (const unsigned v : {0u, 4u, 3u, 2u, 4u, 2u, 5u}) w.unsigned_integer(v);
         w.typed_array(View<const std::uint16_t>{raw, 3});
       }},
      {"uint16 array",
       [](CborWriter& w) {
         const std::int16_t raw[] = {1, 2};
         w.map(4);
         for (const unsigned v : {0u, 4u, 3u, 1u, 4u, 2u, 5u}) w.unsigned_integer(v);
         w.typed_array(View<const std::int16_t>{raw, 2});
       }},
      {"[id, tip",
       [](CborWriter& w) {
         w.map(3);
         for (const unsigned v : {0u, 5u, 2u, 1u, 16u}) w.unsigned_integer(v);
         w.array(1);
         w.array(5);
         for (const unsigned v : {1u, 1u, 1u, 1u, 1u}) w.unsigned_integer(v);
       }},
      // Counts that no memory could hold must not be believed.
      {"CBOR map",
       [](CborWriter& w) {
         w.map(3);
         for (const unsigned v : {0u, 5u, 2u, 1u, 16u}) w.unsigned_integer(v);
         w.array(std::uint64_t{1} << 40);
       }},
      {"CBOR map",
       [](CborWriter& w) {
         w.map(std::uint64_t{1} << 63);
         for (const unsigned v : {0u, 8u}) w.unsigned_integer(v);
       }},
      {"value of 32 bits",
       [](CborWriter& w) {
         w.map(5);
         for (const unsigned v : {0u, 6u, 2u, 1u, 17u, 1u, 20u}) w.unsigned_integer(v);
         w.unsigned_integer(2147483648u);
         w.unsigned_integer(21);
         w.unsigned_integer(0);
       }},
  };
  for (const auto& each : bad) {
    const Bytes damaged = packet_around(each.write);
    const auto reader = read_bytes(intact + damaged + intact);
    EXPECT_EQ(all_of(*reader).size(), 2u) << each.expected;
    EXPECT_EQ(reader->stats().damaged_packets, 1u) << each.expected;
    EXPECT_EQ(reader->stats().lost_bytes, damaged.size()) << each.expected;
    ASSERT_EQ(reader->stats().damage.size(), 1u) << each.expected;
    EXPECT_THAT(reader->stats().damage[0].expected, HasSubstr(each.expected));
    EXPECT_EQ(reader->stats().damage[0].place, intact.size());
  }
}

TEST(AStreamWithFillingZeros, LosesNothing) {
  const Bytes zeros(5, 0);
  const auto reader = read_bytes(zeros + sample_stream() + zeros);
  EXPECT_EQ(all_of(*reader), sample_texts());
  EXPECT_EQ(reader->stats().lost_bytes, 0u);
}

TEST(AStreamWithALongStretchWithoutZeros, IsReadBehindItInBoundedMemory) {
  const Bytes garbage(5'000'000, 0x55);
  const auto reader = read_bytes(sample_stream() + garbage + Bytes{0} + sample_stream());
  EXPECT_EQ(all_of(*reader).size(), 2 * sample_texts().size());
  EXPECT_EQ(reader->stats().damaged_packets, 1u);
  EXPECT_EQ(reader->stats().lost_bytes, garbage.size());
}

TEST(AStreamFullOfDamage, NotesTheFirstPlacesOnly) {
  Bytes stream = sample_stream();
  for (int i = 0; i < 100; ++i) stream = stream + Bytes{0x03, 0x41, 0x42, 0};
  const auto reader = read_bytes(stream);
  all_of(*reader);
  EXPECT_EQ(reader->stats().damaged_packets, 100u);
  EXPECT_EQ(reader->stats().damage.size(), CaptureStats::kMaxDamagePlaces);
}

TEST(BytesWithoutAnyPacket, AreAnErrorEvenWhenTheFormatIsNamed) {
  const auto reader = read_bytes(Bytes{1, 2, 3, 0, 4, 5, 0}, as_frames());
  Record record;
  try {
    reader->next(record);
    FAIL() << "expected an error";
  } catch (const CaptureError& error) {
    EXPECT_EQ(error.file(), "memory");
    EXPECT_EQ(error.place(), "byte 0");
    EXPECT_THAT(error.what(), HasSubstr("found none in 7 bytes"));
  }
}

}  // namespace
}  // namespace bareglass::host
