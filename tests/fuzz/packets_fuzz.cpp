// Intact packets of every kind through the reader alone: what a body may hold.

#include "packet_maker.hpp"
#include "record_promises.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bareglass;
  const std::vector<std::uint8_t> stream = fuzz::PacketMaker(data, size).stream();
  host::OpenOptions options;
  options.format = host::CaptureFormat::frames;
  fuzz::read_all(std::make_unique<fuzz::PiecesSource>(stream.data(), stream.size(), 1u << 20),
                 stream.size(), options);
  return 0;
}
