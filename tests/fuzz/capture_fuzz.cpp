// Every capture reader on bytes as they come: frame streams, CSV, NumPy arrays, V4L2 touch frames,
// tables of any layout, and telling the format. The first bytes choose what is asked for and in
// which pieces the rest arrives.

#include "bareglass/capture/import_profile.hpp"
#include "record_promises.hpp"

namespace {

/// What may be said of a table: some of it, most of it possible.
void tell_of_table(bareglass::host::OpenOptions& options, bareglass::fuzz::Bytes& in) {
  static constexpr const char* kValues[][4] = {{"rows", "columns", "rows", "columns"},
                                               {"lowers", "raises", "lowers", "raises"},
                                               {"us", "ms", "s", "frame"},
                                               {"1", "2", "3", "time"},
                                               {"1", "2", "3", "40"},
                                               {"comma", "semicolon", "tab", "space"},
                                               {"10", "16", "16", "10"},
                                               {"comma", "point", "comma", "point"},
                                               {"1", "0.5", "1000", "0.001"}};
  const auto which = static_cast<unsigned>(in.number(2));
  const auto& settings = bareglass::host::import_settings();
  for (std::size_t n = 0; n < settings.size(); ++n)
    if (which >> n & 1u)
      bareglass::host::set_import(options, settings[n].name, kValues[n][in.byte() % 4]);
  options.table.trial = (which & 512u) != 0;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bareglass;
  fuzz::Bytes in(data, size);
  host::OpenOptions options;
  const std::uint8_t format = in.byte();
  if (format % 8 < 7) options.format = static_cast<host::CaptureFormat>(format % 8);
  if (format >= 128 && format % 8 == 7) options.format = host::CaptureFormat::table;
  const std::uint8_t asked = in.byte();
  if (asked & 1) options.rows = static_cast<int>(in.within(1, 1024));
  if (asked & 1) options.cols = static_cast<int>(in.within(1, 1024));
  if (asked & 2) options.frame_period_us = static_cast<std::uint32_t>(in.within(1, 60'000'000));
  if (asked & 4) options.values = asked & 8 ? host::FrameKind::raw : host::FrameKind::difference;
  options.lenient = (asked & 16) != 0;
  if (asked & 64) tell_of_table(options, in);
  const std::size_t chunk = asked & 32 ? in.byte() : std::size_t{1} << 20;
  fuzz::read_all(std::make_unique<fuzz::PiecesSource>(in.rest(), in.left(), chunk), in.left(),
                 options);
  return 0;
}
