#pragma once
// What the core says of frames as they come, while they are recorded.

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "bareglass/replay/dump_feed.hpp"
#include "bareglass/replay/replay.hpp"

namespace bareglass::tools {

class LiveJudge {
 public:
  using Say = std::function<void(const std::string& sentence)>;
  /// `say` is called for what happens: frames begin, a power-up, a restart, a decision.
  LiveJudge(host::ReplayOptions options, Say say);

  void take(const host::Record& record);

  std::uint64_t frames() const { return frames_; }
  /// Lives of the unit that began within the recording.
  int power_ups() const { return power_ups_; }
  /// Frames a second over the last ones, on the unit's clock; 0: not known.
  double rate() const;
  /// "input on", ...; why nothing is judged, if so.
  std::string state() const;
  bool judging() const { return judging_; }
  bool input_on() const { return judging_ && engine_.input_on(); }

 private:
  void put(const host::PanelDescription& panel);
  void put(const host::FrameRecord& frame);
  void put(const host::ReferenceRecord& reference) { feed_.take(reference); }
  void put(const host::ContactsRecord&) {}
  void put(const host::JournalRecord&) {}
  void put(const host::SupplyRecord&) {}
  void put(const host::NoteRecord&) {}
  void start(const host::FrameRecord& first);
  void powered_up(const std::string& sentence);
  void tell_journal();
  void count_step(std::uint64_t t_us);

  using Storage = bareglass::Storage<kMaxLines, kMaxLines>;
  host::ReplayOptions options_;
  Say say_;
  std::unique_ptr<Storage> storage_;
  Engine engine_;
  host::DumpFeed feed_;
  host::PanelDescription panel_;
  std::string why_not_;
  bool tried_ = false, judging_ = false;
  std::uint64_t frames_ = 0;
  int power_ups_ = 0;
  std::uint32_t journal_read_ = 0;
  std::uint64_t last_us_ = 0;
  double step_us_ = 0;
};

}  // namespace bareglass::tools
