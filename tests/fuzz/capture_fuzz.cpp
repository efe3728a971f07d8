// Every capture reader on bytes as they come: frame streams, CSV, NumPy arrays, V4L2 touch frames,
// and telling the format. The first bytes choose what is asked for and in which pieces the rest
// arrives.

#include "record_promises.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bareglass;
  fuzz::Bytes in(data, size);
  host::OpenOptions options;
  const std::uint8_t format = in.byte();
  if (format % 8 < 7) options.format = static_cast<host::CaptureFormat>(format % 8);
  const std::uint8_t asked = in.byte();
  if (asked & 1) options.rows = static_cast<int>(in.within(1, 1024));
  if (asked & 1) options.cols = static_cast<int>(in.within(1, 1024));
  if (asked & 2) options.frame_period_us = static_cast<std::uint32_t>(in.within(1, 60'000'000));
  if (asked & 4) options.values = asked & 8 ? host::FrameKind::raw : host::FrameKind::difference;
  options.lenient = (asked & 16) != 0;
  const std::size_t chunk = asked & 32 ? in.byte() : std::size_t{1} << 20;
  fuzz::read_all(std::make_unique<fuzz::PiecesSource>(in.rest(), in.left(), chunk), in.left(),
                 options);
  return 0;
}
