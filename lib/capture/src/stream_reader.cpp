// The panel frame stream: see FORMAT.md beside this file.

#include <fmt/format.h>

#include <cstring>

#include "bareglass/capture/damage_note.hpp"
#include "bareglass/core/packet.hpp"
#include "frame_account.hpp"
#include "packet_body.hpp"
#include "packet_decoder.hpp"
#include "readers.hpp"

namespace bareglass::host {

namespace {

/// Anything longer without a zero can't be a packet.
constexpr std::size_t kMostPacketBytes = frame_packet_bytes(kMaxCaptureLines, kMaxCaptureLines);

class StreamReader final : public CaptureReader {
 public:
  StreamReader(Buffer input, const std::string& name, const OpenOptions& options)
      : input_(std::move(input)), name_(name), options_(options) {}

  bool next(Record& out) override {
    std::size_t size = 0;
    while (find_packet(size))
      if (take_packet(out, size)) return true;
    if (stats_.packets == 0) throw CaptureError(name_, at_byte(0), nothing_intact());
    return false;
  }

  CaptureFormat format() const override { return CaptureFormat::frames; }
  std::uint64_t bytes_read() const override { return input_->offset(); }
  std::optional<std::uint64_t> bytes_total() const override { return input_->total(); }

 private:
  /// Finds the end of the packet that begins the window; `size` leaves its zero out. At the
  /// source's end what is left counts as a packet. False if nothing is left.
  bool find_packet(std::size_t& size) {
    std::size_t searched = 0;
    for (;;) {
      const std::size_t left = input_->size() - searched;
      const void* zero = left > 0 ? std::memchr(input_->data() + searched, 0, left) : nullptr;
      if (zero != nullptr) {
        size = static_cast<std::size_t>(static_cast<const std::uint8_t*>(zero) - input_->data());
        return true;
      }
      searched = input_->size();
      if (searched > kMostPacketBytes) {
        skip_overlong();
        searched = 0;
        continue;
      }
      if (!input_->fill()) {
        size = input_->size();
        return size > 0;
      }
    }
  }

  /// Drops bytes up to the next zero, which stays.
  void skip_overlong() {
    damaged("a zero byte ending a packet within " + std::to_string(kMostPacketBytes) + " bytes");
    do {
      const void* zero = std::memchr(input_->data(), 0, input_->size());
      const std::size_t drop =
          zero != nullptr
              ? static_cast<std::size_t>(static_cast<const std::uint8_t*>(zero) - input_->data())
              : input_->size();
      lose(drop);
      if (zero != nullptr) return;
    } while (input_->fill());
  }

  /// Handles the packet in the window's first `size` bytes; true if it gave a record.
  bool take_packet(Record& out, std::size_t size) {
    // The zero, absent only at the end of the source.
    const std::size_t ending = size < input_->size() ? 1 : 0;
    if (size == 0) {
      input_->consume(ending);
      return false;
    }
    View<const std::uint8_t> body = decoder_.decode(input_->data(), size);
    if (!body.empty()) return take_body(out, body, size + ending);
    std::size_t used = 0;
    body = decoder_.decode_front(used, input_->data(), size);
    if (!body.empty()) {
      note_damage(stats_, {input_->offset() + used, false, "a zero byte ending the packet"});
      ++stats_.lost_bytes;
      return take_body(out, body, used + 1);
    }
    damaged(ending == 0             ? "the rest of a packet; the capture ends inside it"
            : input_->offset() == 0 ? "a whole packet; the capture may begin in the middle of one"
                                    : "a packet whose CRC-32C is right");
    lose(size + ending);
    return false;
  }

  bool take_body(Record& out, View<const std::uint8_t> body, std::size_t consumed) {
    const BodyResult result = parse_body(out, body.data, body.size);
    if (result.status == BodyStatus::malformed) {
      damaged(result.expected);
      lose(consumed);
      return false;
    }
    if (auto* panel = std::get_if<PanelDescription>(&out)) expect_as_asked(*panel);
    if (const auto* frame = std::get_if<FrameRecord>(&out)) expect_as_asked(*frame);
    input_->consume(consumed);
    ++stats_.packets;
    if (result.status == BodyStatus::unknown_kind) {
      ++stats_.unknown_kinds;
      return false;
    }
    stats_.unknown_keys += result.unknown_keys;
    if (const auto* frame = std::get_if<FrameRecord>(&out)) account_.frame(stats_, *frame, true);
    if (const auto* panel = std::get_if<PanelDescription>(&out)) account_.description(*panel);
    if (const auto* note = std::get_if<NoteRecord>(&out)) take_damage_note(stats_, *note);
    return true;
  }

  // The stream says what it holds: what was asked for may confirm it or fill in the frame period.
  void expect_as_asked(PanelDescription& panel) const {
    expect_lines(panel.rows, panel.cols);
    if (options_.frame_period_us == 0) return;
    if (panel.frame_period_us == 0) panel.frame_period_us = options_.frame_period_us;
    if (panel.frame_period_us != options_.frame_period_us)
      fail(fmt::format("expected {} us a frame as asked for, but the dump has {}",
                       options_.frame_period_us, panel.frame_period_us));
  }

  void expect_as_asked(const FrameRecord& frame) {
    expect_lines(frame.rows, frame.cols);
    const bool first = stats_.frames == 0;
    if (first && options_.values && *options_.values != frame.kind)
      fail(fmt::format("expected the values asked for, but the dump begins with {}",
                       frame.kind == FrameKind::raw ? "raw frames" : "difference frames"));
  }

  void expect_lines(int rows, int cols) const {
    if ((options_.rows != 0 && options_.rows != rows) ||
        (options_.cols != 0 && options_.cols != cols))
      fail(fmt::format("expected the rows and columns asked for, but the dump has {} and {}", rows,
                       cols));
  }

  [[noreturn]] void fail(const std::string& expected) const {
    throw CaptureError(name_, at_byte(input_->offset()), expected);
  }

  void damaged(std::string expected) {
    ++stats_.damaged_packets;
    note_damage(stats_, {input_->offset(), false, std::move(expected)});
  }

  void lose(std::size_t count) {
    stats_.lost_bytes += count;
    input_->consume(count);
  }

  std::string nothing_intact() const {
    return "expected at least one intact packet, found none in " +
           std::to_string(input_->offset()) + " bytes";
  }

  Buffer input_;
  std::string name_;
  OpenOptions options_;
  PacketDecoder decoder_;
  FrameAccount account_;
};

}  // namespace

std::unique_ptr<CaptureReader> make_stream_reader(Buffer input, const std::string& name,
                                                  const OpenOptions& options) {
  return std::make_unique<StreamReader>(std::move(input), name, options);
}

}  // namespace bareglass::host
