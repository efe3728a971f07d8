#include <algorithm>
#include <cmath>

#include "bareglass/advise/diagnose.hpp"
#include "bareglass/compare/comparison.hpp"

namespace bareglass::host {

namespace {

constexpr double kD2 = 1.128;  // mean range of two normal values, in standard deviations

// Passes records on and keeps what the first settled frames say of every node.
class Watched : public CaptureReader {
 public:
  Watched(CaptureReader& inner, std::uint64_t settle_us) : inner_(inner), settle_us_(settle_us) {}

  bool next(Record& out) override {
    const bool there = inner_.next(out);
    if (!there) {
      stats_ = inner_.stats();
      return false;
    }
    if (const auto* reference = std::get_if<ReferenceRecord>(&out)) reference_ = reference->raw;
    if (const auto* frame = std::get_if<FrameRecord>(&out)) take(*frame);
    return true;
  }
  CaptureFormat format() const override { return inner_.format(); }
  std::uint64_t bytes_read() const override { return inner_.bytes_read(); }
  std::optional<std::uint64_t> bytes_total() const override { return inner_.bytes_total(); }

  void give(StateOfUnit& state) const {
    state.frames = frames_;
    state.reference = reference_.size() == sum_.size() ? reference_ : std::vector<std::uint16_t>{};
    for (std::size_t i = 0; i < sum_.size(); ++i) {
      state.mean.push_back(sum_[i] / std::max(frames_, 1u));
      state.noise.push_back(frames_ > 1 ? moved_[i] / (frames_ - 1) / kD2 : 0.0);
    }
  }

 private:
  void take(const FrameRecord& frame) {
    if (!first_us_) {
      first_us_ = frame.t_us;
      kind_ = frame.kind;
      sum_.assign(static_cast<std::size_t>(frame.rows * frame.cols), 0.0);
      last_ = sum_;
      moved_ = sum_;
    }
    if (frames_ == StateOfUnit::kMostFrames || frame.kind != kind_) return;
    if (frame.t_us < *first_us_ + settle_us_) return;
    const bool raw = frame.kind == FrameKind::raw;
    if ((raw ? frame.raw.size() : frame.difference.size()) != sum_.size()) return;
    for (std::size_t i = 0; i < sum_.size(); ++i) {
      const double value = raw ? frame.raw[i] : frame.difference[i];
      sum_[i] += value;
      if (frames_ > 0) moved_[i] += std::abs(value - last_[i]);
      last_[i] = value;
    }
    ++frames_;
  }

  CaptureReader& inner_;
  std::uint64_t settle_us_;
  std::vector<std::uint16_t> reference_;
  std::optional<std::uint64_t> first_us_;
  FrameKind kind_ = FrameKind::raw;
  std::uint32_t frames_ = 0;
  std::vector<double> sum_, moved_, last_;
};

// Start-ups are counted in the replay's journal: each power-up, and whether input came on before
// the next one.
void count_start_ups(StateOfUnit& state) {
  if (state.account.kind != DumpKind::from_power_up) return;
  bool waiting = false;
  for (const JournalEntry& e : state.account.events) {
    if (e.code == JournalCode::power_up) {
      ++state.start_ups;
      waiting = true;
    } else if (e.code == JournalCode::input_on && waiting) {
      ++state.start_ups_on;
      waiting = false;
    }
  }
}

}  // namespace

StateOfUnit read_state(CaptureReader& reader, const std::string& file,
                       const ReplayOptions& options) {
  StateOfUnit state;
  state.file = file;
  Watched watched(reader, 1000ull * options.settings.value_or(Settings{}).settle_ms);
  state.account = replay(watched, file, options);
  state.diagnosis = diagnose(state.account);
  watched.give(state);
  count_start_ups(state);
  return state;
}

}  // namespace bareglass::host
