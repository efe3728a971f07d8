#pragma once
// Captures in memory: a source that hands bytes out in pieces of any size, faults to put into them,
// and records as text, so that two captures can be compared.

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <sstream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "bareglass/capture/reader.hpp"
#include "bareglass/capture/writer.hpp"

namespace bareglass::support {

using Bytes = std::vector<std::uint8_t>;

/// Gives `first` bytes with the first read and `chunk` bytes with each later one.
class ChunkedSource : public host::ByteSource {
 public:
  ChunkedSource(Bytes bytes, std::size_t first, std::size_t chunk)
      : bytes_(std::move(bytes)), next_(first), chunk_(chunk) {}

  std::size_t read(std::uint8_t* to, std::size_t most) override {
    const std::size_t size = std::min({next_, most, bytes_.size() - at_});
    if (size > 0) std::memcpy(to, bytes_.data() + at_, size);
    at_ += size;
    next_ = chunk_;
    return size;
  }

 private:
  Bytes bytes_;
  std::size_t next_;
  std::size_t chunk_;
  std::size_t at_ = 0;
};

constexpr std::size_t kAtOnce = 1u << 30;

inline std::unique_ptr<host::CaptureReader> read_bytes(const Bytes& bytes,
                                                       const host::OpenOptions& options = {},
                                                       std::size_t first = kAtOnce,
                                                       std::size_t chunk = kAtOnce) {
  return host::open_capture(std::make_unique<ChunkedSource>(bytes, first, chunk), "memory",
                            options);
}

inline Bytes bytes_of(const std::string& text) { return Bytes(text.begin(), text.end()); }

/// Begin and end (zero included) of each packet of an undamaged stream.
inline std::vector<std::pair<std::size_t, std::size_t>> packet_places(const Bytes& stream) {
  std::vector<std::pair<std::size_t, std::size_t>> places;
  std::size_t begin = 0;
  for (std::size_t i = 0; i < stream.size(); ++i) {
    if (stream[i] != 0) continue;
    places.emplace_back(begin, i + 1);
    begin = i + 1;
  }
  return places;
}

/// Fault: packet `k` never arrives.
inline Bytes without_packet(Bytes stream, std::size_t k) {
  const auto place = packet_places(stream).at(k);
  stream.erase(stream.begin() + static_cast<std::ptrdiff_t>(place.first),
               stream.begin() + static_cast<std::ptrdiff_t>(place.second));
  return stream;
}

/// Fault: the bits of `mask` flip in byte `at`.
inline Bytes with_flipped(Bytes stream, std::size_t at, std::uint8_t mask) {
  stream.at(at) = static_cast<std::uint8_t>(stream.at(at) ^ mask);
  return stream;
}

/// Fault: only the bytes `begin`..`end` arrive.
inline Bytes part_of(const Bytes& stream, std::size_t begin, std::size_t end) {
  return Bytes(stream.begin() + static_cast<std::ptrdiff_t>(begin),
               stream.begin() + static_cast<std::ptrdiff_t>(end));
}

/// Every field of a record, one line.
class RecordText {
 public:
  std::string of(const host::Record& record) {
    out_.str({});
    std::visit([this](const auto& r) { put(r); }, record);
    return out_.str();
  }

 private:
  template <typename T>
  static std::string maybe(const std::optional<T>& value) {
    return value ? std::to_string(*value) : "-";
  }
  template <typename T>
  void list(const std::vector<T>& values) {
    for (const T value : values) out_ << ' ' << value;
  }
  void put(const host::PanelDescription& p) {
    out_ << "panel " << p.rows << 'x' << p.cols << " pitch " << p.pitch_row_mm << ' '
         << p.pitch_col_mm << " finger " << p.finger_counts << " rise " << p.counts_rise
         << " period " << p.frame_period_us << " unit [" << p.unit_id << "] name [" << p.panel_name
         << "] firmware [" << p.firmware << "] max " << maybe(p.raw_max) << " power-up "
         << maybe(p.power_up_us);
  }
  void put(const host::FrameRecord& f) {
    out_ << (f.kind == host::FrameKind::raw ? "raw " : "difference ") << f.sequence << " at "
         << f.t_us << ' ' << f.rows << 'x' << f.cols << ':';
    list(f.raw);
    out_ << ';';
    list(f.difference);
  }
  void put(const host::ReferenceRecord& r) {
    out_ << "reference " << r.rows << 'x' << r.cols << ':';
    list(r.raw);
  }
  void put(const host::ContactsRecord& c) {
    out_ << "contacts at " << c.t_us;
    for (const host::DeviceContact& contact : c.contacts)
      out_ << " [" << int{contact.id} << ' ' << contact.tip << ' ' << contact.x_q8 << ' '
           << contact.y_q8 << ' ' << contact.strength << ']';
  }
  void put(const host::JournalRecord& j) {
    out_ << "journal at " << j.t_us << " code " << static_cast<int>(j.code) << " detail "
         << int{j.detail} << " place " << int{j.row} << ' ' << int{j.col} << " value " << j.value
         << " limit " << j.limit;
  }
  void put(const host::SupplyRecord& s) {
    out_ << "supply at " << s.t_us << ' ' << maybe(s.millivolts) << ' ' << maybe(s.charging) << ' '
         << maybe(s.docked) << ' ' << maybe(s.temperature_c10);
  }
  void put(const host::NoteRecord& n) { out_ << "note at " << n.t_us << " [" << n.text << ']'; }

  std::ostringstream out_;
};

inline std::string text_of(const host::Record& record) { return RecordText().of(record); }

/// All records of a capture, as text.
inline std::vector<std::string> all_of(host::CaptureReader& reader) {
  std::vector<std::string> texts;
  host::Record record;
  while (reader.next(record)) texts.push_back(text_of(record));
  return texts;
}

inline std::vector<std::string> texts_of(const std::vector<host::Record>& records) {
  std::vector<std::string> texts;
  for (const host::Record& record : records) texts.push_back(text_of(record));
  return texts;
}

/// A folder of its own that goes with the test.
class TempFolder {
 public:
  TempFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "bareglass-test-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder: " + name);
    path_ = name;
  }
  ~TempFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;

  std::string file(const std::string& name) const { return path_ + "/" + name; }
  std::string path() const { return path_; }

 private:
  std::string path_;
};

inline Bytes content_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return Bytes(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
}

inline void put_file(const std::string& path, const Bytes& bytes) {
  std::ofstream out(path, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes.data()),
            static_cast<std::streamsize>(bytes.size()));
}

/// The bytes a writer makes of these records.
inline Bytes written_as(host::CaptureFormat format, const std::vector<host::Record>& records) {
  const TempFolder folder;
  const std::string path = folder.file("capture");
  const auto writer = host::create_capture(path, format);
  for (const host::Record& record : records) writer->write(record);
  writer->finish();
  return content_of(path);
}

/// A small capture with every kind of record; invented.
inline std::vector<host::Record> sample_records() {
  using namespace host;
  PanelDescription panel;
  panel.rows = 3;
  panel.cols = 4;
  panel.pitch_row_mm = 4.05;
  panel.pitch_col_mm = 3.987654;
  panel.finger_counts = 3500;
  panel.frame_period_us = 8000;
  panel.unit_id = "bay 4, unit 17";
  panel.panel_name = "bench panel";
  panel.firmware = "0.3";
  panel.raw_max = 65535;
  panel.power_up_us = 1000;
  const ReferenceRecord reference{3, 4, {100, 200, 300, 0, 65535, 256, 512, 7, 8, 9, 10, 11}};
  FrameRecord raw;
  raw.t_us = 9000;
  raw.rows = 3;
  raw.cols = 4;
  raw.raw = {101, 0, 0, 0, 65535, 258, 513, 70, 80, 90, 100, 110};
  FrameRecord second = raw;
  second.sequence = 1;
  second.t_us = 17000;
  second.raw[5] = 3;
  FrameRecord difference = raw;
  difference.kind = FrameKind::difference;
  difference.sequence = 1;
  difference.t_us = 17000;
  difference.raw.clear();
  difference.difference = {0, -1, 1, -32768, 32767, 256, -256, 0, 0, 12, -12, 3};
  PanelDescription again = panel;
  again.power_up_us = 40000;
  again.firmware.clear();
  FrameRecord after = raw;
  after.t_us = 48000;
  return {panel,
          reference,
          SupplyRecord{900, 3712, true, false, -15},
          raw,
          JournalRecord{9500, JournalCode::glass_not_bare, 2, 3, -700, 300, 4},
          second,
          difference,
          ContactsRecord{17001, {{1, true, -128, 256, 3400}, {2, false, 700, 512, -3}}},
          ContactsRecord{17500, {}},
          NoteRecord{18000, "taped at the top edge: \xC3\xBC, 100 % \\ \"quoted\""},
          JournalRecord{19000, JournalCode::input_off, kNoLine, kNoLine, 5, 6, 0},
          SupplyRecord{20000, {}, {}, {}, {}},
          again,
          after};
}

}  // namespace bareglass::support
