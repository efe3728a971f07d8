#pragma once
// Packets whose CRC is right, made from an input's bytes: mostly what a controller would send, now
// and then a key too many, a value of another type or out of its range, a body that is no map.

#include <vector>

#include "bareglass/core/cbor_writer.hpp"
#include "bareglass/core/cobs.hpp"
#include "bareglass/core/crc32c.hpp"
#include "bareglass/core/packet_format.hpp"
#include "fuzz_bytes.hpp"

namespace bareglass::fuzz {

class PacketMaker {
 public:
  PacketMaker(const std::uint8_t* data, std::size_t size) : in_(data, size), body_(1 << 16) {
    rows_ = static_cast<int>(in_.within(1, 9));
    cols_ = static_cast<int>(in_.within(1, 9));
    base_ = static_cast<std::uint16_t>(in_.within(0, 65535));
    period_us_ = static_cast<std::uint32_t>(in_.within(0, 20000));
  }

  /// At most a few hundred frames, so that an input takes milliseconds.
  std::vector<std::uint8_t> stream() {
    while (!in_.empty() && frames_ < 400) act();
    return std::move(out_);
  }

  Bytes& in() { return in_; }

 private:
  void act() {
    const std::uint8_t what = in_.byte();
    switch (what % 16) {
      case 0:
        return description();
      case 1:
        return reference();
      case 2:
        return journal();
      case 3:
        return supply();
      case 4:
        return note();
      case 5:
        return contacts();
      case 6:
        return odd_map();
      case 7:
        return odd_body();
      case 8:
        return lump();
      case 9:
        return shape();
      case 10:
        t_us_ = in_.chance(128) ? in_.number(8) : t_us_ + in_.number(4);
        return;
      case 11:
        sequence_ = static_cast<std::uint32_t>(in_.number(in_.chance(128) ? 1 : 4));
        return;
      case 12:
        kind_ = in_.chance(128) ? PacketKind::raw_frame : PacketKind::difference_frame;
        return;
      case 13:
        out_.push_back(in_.byte());  // noise between packets
        return;
      default:
        return frames(1 + what / 16);
    }
  }

  void pair(CborWriter& w, PacketKey key, std::uint64_t value) {
    w.unsigned_integer(static_cast<std::uint64_t>(key));
    w.unsigned_integer(value);
  }
  void text(CborWriter& w, PacketKey key) {
    const std::string words = in_.text(60);
    w.unsigned_integer(static_cast<std::uint64_t>(key));
    w.text({words.data(), words.size()});
  }

  void description() {
    CborWriter w({body_.data(), body_.size()});
    w.map(12);
    pair(w, PacketKey::kind, 1);
    pair(w, PacketKey::rows, static_cast<std::uint64_t>(rows_));
    pair(w, PacketKey::cols, static_cast<std::uint64_t>(cols_));
    pair(w, PacketKey::pitch_row_nm, in_.number(4));
    pair(w, PacketKey::pitch_col_nm, in_.chance(128) ? 5'000'000 : in_.number(3));
    pair(w, PacketKey::finger_counts, in_.chance(128) ? 3500 : in_.number(2));
    pair(w, PacketKey::frame_period_us, in_.chance(200) ? period_us_ : in_.number(4));
    pair(w, PacketKey::power_up_us, in_.chance(200) ? t_us_ : in_.number(8));
    pair(w, PacketKey::raw_max, in_.number(2));
    text(w, PacketKey::unit_id);
    text(w, PacketKey::panel_name);
    text(w, PacketKey::firmware);
    send(w);
  }

  void samples(CborWriter& w, bool raw, int rows, int cols) {
    const auto nodes = static_cast<std::size_t>(rows * cols);
    w.unsigned_integer(static_cast<std::uint64_t>(PacketKey::samples));
    if (raw) {
      std::vector<std::uint16_t> values(nodes, base_);
      for (std::size_t n = 0; n < nodes; ++n)
        values[n] =
            static_cast<std::uint16_t>(std::clamp(base_ - lump_at(n, cols) + jitter(), 0, 65535));
      w.typed_array(View<const std::uint16_t>{values.data(), nodes});
    } else {
      std::vector<std::int16_t> values(nodes);
      for (std::size_t n = 0; n < nodes; ++n)
        values[n] =
            static_cast<std::int16_t>(std::clamp(lump_at(n, cols) + jitter(), -32768, 32767));
      w.typed_array(View<const std::int16_t>{values.data(), nodes});
    }
  }

  void frames(int count) {
    for (int n = 0; n < count; ++n, ++frames_) {
      CborWriter w({body_.data(), body_.size()});
      w.map(6);
      pair(w, PacketKey::kind, static_cast<std::uint64_t>(kind_));
      pair(w, PacketKey::sequence, sequence_++);
      pair(w, PacketKey::t_us, t_us_ += period_us_);
      pair(w, PacketKey::rows, static_cast<std::uint64_t>(rows_));
      pair(w, PacketKey::cols, static_cast<std::uint64_t>(cols_));
      samples(w, kind_ == PacketKind::raw_frame, rows_, cols_);
      send(w);
    }
  }

  // Also of another shape than the panel's.
  void reference() {
    const bool other = in_.chance(60);
    const int rows = other ? static_cast<int>(in_.within(1, 9)) : rows_;
    const int cols = other ? static_cast<int>(in_.within(1, 9)) : cols_;
    CborWriter w({body_.data(), body_.size()});
    w.map(4);
    pair(w, PacketKey::kind, 4);
    pair(w, PacketKey::rows, static_cast<std::uint64_t>(rows));
    pair(w, PacketKey::cols, static_cast<std::uint64_t>(cols));
    samples(w, true, rows, cols);
    send(w);
  }

  void journal() {
    CborWriter w({body_.data(), body_.size()});
    w.map(8);
    pair(w, PacketKey::kind, 6);
    pair(w, PacketKey::t_us, t_us_);
    pair(w, PacketKey::code, in_.byte());
    pair(w, PacketKey::row, in_.byte());
    pair(w, PacketKey::col, in_.byte());
    for (const PacketKey key : {PacketKey::value, PacketKey::limit}) {
      w.unsigned_integer(static_cast<std::uint64_t>(key));
      w.integer(static_cast<std::int32_t>(in_.number(in_.chance(128) ? 1 : 4)));
    }
    pair(w, PacketKey::detail, in_.byte());
    send(w);
  }

  void supply() {
    CborWriter w({body_.data(), body_.size()});
    w.map(4);
    pair(w, PacketKey::kind, 7);
    pair(w, PacketKey::t_us, t_us_);
    pair(w, PacketKey::millivolts, in_.number(2));
    w.unsigned_integer(
        static_cast<std::uint64_t>(in_.chance(128) ? PacketKey::docked : PacketKey::charging));
    w.boolean(in_.chance(128));
    send(w);
  }

  void note() {
    CborWriter w({body_.data(), body_.size()});
    w.map(3);
    pair(w, PacketKey::kind, 8);
    pair(w, PacketKey::t_us, t_us_);
    text(w, PacketKey::text);
    send(w);
  }

  void contacts() {
    const auto count = in_.within(0, 12);
    CborWriter w({body_.data(), body_.size()});
    w.map(3);
    pair(w, PacketKey::kind, 5);
    pair(w, PacketKey::t_us, t_us_);
    w.unsigned_integer(static_cast<std::uint64_t>(PacketKey::contacts));
    w.array(static_cast<std::uint64_t>(count));
    for (std::int64_t n = 0; n < count; ++n) {
      w.array(5);
      w.unsigned_integer(in_.byte());
      w.boolean(in_.chance(128));
      for (int k = 0; k < 3; ++k) w.integer(static_cast<std::int16_t>(in_.number(2)));
    }
    send(w);
  }

  // Any keys with any simple values.
  void odd_map() {
    const auto pairs = in_.within(0, 8);
    CborWriter w({body_.data(), body_.size()});
    w.map(static_cast<std::uint64_t>(pairs));
    for (std::int64_t n = 0; n < pairs; ++n) {
      w.unsigned_integer(n == 0 ? 0 : in_.byte() % 40u);
      switch (in_.byte() % 6) {
        case 0:
          w.unsigned_integer(in_.number(8));
          break;
        case 1:
          w.integer(static_cast<std::int64_t>(in_.number(8)));
          break;
        case 2:
          w.boolean(in_.chance(128));
          break;
        case 3: {
          const std::string words = in_.text(40);
          w.text({words.data(), words.size()});
          break;
        }
        case 4:
          w.array(in_.byte() % 4u);
          break;
        default:
          w.unsigned_integer(in_.byte());
      }
    }
    send(w);
  }

  void odd_body() {
    const std::string bytes = in_.text(200);
    send(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size());
  }

  // Something on the glass: where, how high, how wide.
  void lump() {
    at_row_ = static_cast<int>(in_.within(0, 9));
    at_col_ = static_cast<int>(in_.within(0, 9));
    height_ = static_cast<int>(in_.within(-30000, 30000)) >> in_.byte() % 6;
    width_ = static_cast<int>(in_.within(0, 9));
    noise_ = static_cast<int>(in_.within(0, 255)) >> in_.byte() % 8;
  }

  void shape() {
    rows_ = static_cast<int>(in_.within(1, 9));
    cols_ = static_cast<int>(in_.within(1, 9));
  }

  int lump_at(std::size_t node, int cols) const {
    const int row = static_cast<int>(node) / cols, col = static_cast<int>(node) % cols;
    const int away = std::abs(row - at_row_) + std::abs(col - at_col_);
    return away < width_ ? height_ * (width_ - away) / width_ : 0;
  }
  int jitter() {
    random_ = random_ * 6364136223846793005u + 1442695040888963407u;
    return noise_ == 0 ? 0 : static_cast<int>(random_ >> 33) % (2 * noise_ + 1) - noise_;
  }

  void send(const CborWriter& w) { send(body_.data(), w.size()); }
  void send(const std::uint8_t* body, std::size_t size) {
    std::vector<std::uint8_t> whole(body, body + size);
    const std::uint32_t crc = crc32c(kCrc32cStart, View<const std::uint8_t>{body, size});
    for (int k = 0; k < 4; ++k) whole.push_back(static_cast<std::uint8_t>(crc >> (8 * k)));
    std::vector<std::uint8_t> packet(whole.size() + cobs_overhead(whole.size()));
    const CobsResult coded =
        cobs_encode({packet.data(), packet.size()}, {whole.data(), whole.size()});
    out_.insert(out_.end(), packet.begin(),
                packet.begin() + static_cast<std::ptrdiff_t>(coded.size));
    out_.push_back(0);
  }

  Bytes in_;
  std::vector<std::uint8_t> body_;
  std::vector<std::uint8_t> out_;
  int rows_ = 4, cols_ = 4;
  std::uint16_t base_ = 20000;
  std::uint32_t period_us_ = 8000;
  std::uint64_t t_us_ = 0;
  std::uint32_t sequence_ = 0;
  PacketKind kind_ = PacketKind::raw_frame;
  int at_row_ = 0, at_col_ = 0, height_ = 0, width_ = 0, noise_ = 3;
  std::uint64_t random_ = 1;
  int frames_ = 0;
};

}  // namespace bareglass::fuzz
