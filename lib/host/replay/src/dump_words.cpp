#include "bareglass/replay/dump_words.hpp"

#include <fmt/format.h>

#include "bareglass/settings/setting_words.hpp"

namespace bareglass::host::text {

std::string seconds(std::uint64_t t_us, std::uint64_t zero_us) {
  const double s = t_us >= zero_us ? static_cast<double>(t_us - zero_us) / 1e6
                                   : -static_cast<double>(zero_us - t_us) / 1e6;
  return fmt::format("{:.3f} s", s);
}

std::string assumed_pitch(const Settings& s) {
  return fmt::format(
      "The dump does not name the pitch; {:.1f} mm between rows and {:.1f} mm between columns are "
      "assumed.",
      s.pitch_row_um / 1000.0, s.pitch_col_um / 1000.0);
}

std::string finger(const FingerScale& f) {
  switch (f.source) {
    case FingerScale::Source::dump:
      return fmt::format("A finger: {} counts.", f.counts);
    case FingerScale::Source::option:
      return fmt::format("A finger: {} counts, as --finger-counts says.", f.counts);
    case FingerScale::Source::settings:
      return fmt::format("A finger: {} counts, as the settings say; not stated in the dump.",
                         f.counts);
    case FingerScale::Source::bare_reading:
      break;
  }
  return fmt::format(
      "A finger is taken as {} counts: {:.{}f} % of the bare reading ({} counts){}; "
      "not stated in the dump.",
      f.counts, 100.0 * f.share, f.of_panel ? 1 : 0, f.bare_counts,
      f.of_panel ? ", as the panel file gives it" : "");
}

std::string assumed_finger(const FingerScale& f) {
  const std::string rests = fmt::format(
      "The dump does not state the signal of a finger: every percentage rests on {} counts, "
      "{:.{}f} "
      "% of the bare reading ({} counts)",
      f.counts, 100.0 * f.share, f.of_panel ? 1 : 0, f.bare_counts);
  if (f.of_panel) return rests + ", as the panel file gives it.";
  return rests +
         ". That is a finger on 1.1 mm of glass; it is 18 % on 0.7 mm and 7 % on 3 mm. --panel "
         "FILE "
         "or --finger-counts N settles it.";
}

std::string ask_for_finger(FrameKind kind) {
  return fmt::format(
      "expected --finger-counts N, how many counts a finger changes a node by: the dump does not "
      "state it, and {}",
      kind == FrameKind::difference ? "it can't follow from differences"
                                    : "the bare reading is too low for it to follow from that");
}

std::string assumed_policy(const Settings& s) {
  return fmt::format("The dump does not name the device's start policy; \"{}\" is assumed.",
                     policy(s.policy));
}

std::string assumed_restart() {
  return "The clock starts again within the dump; that is taken for a restart of the unit at an "
         "unknown time before.";
}

std::string later_reference() {
  return "A factory reference comes after the first frame; it is used from the next power-up in "
         "the dump on, if it has the panel's size.";
}

std::string reference_shape(std::size_t values, Shape shape) {
  return fmt::format("expected {} values (rows {} x columns {}), but it holds {}", shape.nodes(),
                     shape.rows, shape.cols, values);
}

std::string late_power_up(std::uint64_t power_up_us, std::uint64_t first_us) {
  return fmt::format(
      "expected a time up to the first frame at {}, not {}: it tells when the panel was powered "
      "before the dump begins",
      seconds(first_us, 0), seconds(power_up_us, 0));
}

std::string no_frames() { return "expected at least one intact frame, but there is none"; }

}  // namespace bareglass::host::text
