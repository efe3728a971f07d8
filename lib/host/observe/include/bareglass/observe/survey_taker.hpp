#pragma once
// Takes the survey, frame by frame.

#include "bareglass/observe/survey.hpp"

namespace bareglass::host {

class SurveyTaker {
 public:
  void begin(Shape shape, std::uint32_t frame_period_us);
  /// `raw`: as many counts as the shape has nodes.
  void take(const std::uint16_t* raw, std::uint64_t t_us);
  /// The unit was powered anew: nothing is compared across this.
  void interrupt();
  Survey finish();
  bool begun() const { return survey_.shape.rows != 0; }

 private:
  static constexpr int kQuarters = 4;
  struct Levels {
    std::vector<float> quarter;  ///< line * kQuarters + quarter: mean, counts
  };
  void levels(Levels& rows, Levels& columns, const std::uint16_t* raw) const;
  static float typical_step(const Levels& now, const Levels& before);
  static bool may_have_stepped(const Levels& now, const Levels& before, std::size_t lines);
  static void count_steps(std::vector<LineSteps>& steps, const Levels& now, const Levels& before,
                          std::uint64_t t_us);
  /// What the typical line does from one frame to the next, share of its level: mean so far.
  struct Restlessness {
    float sum = 0.f;
    int frames = 0;
  };
  void count_faint_steps(std::vector<LineSteps>& steps, Restlessness& typical, const Levels& now,
                         const Levels& before, std::uint64_t t_us);
  void swing();
  bool is_settling();
  void close();
  void merge_pairs();

  Survey survey_;
  int window_frames_ = 12;
  int frames_ = 0;
  int may_settle_ = 0;         ///< frames that may still be left out because the front end settles
  bool saw_settling_ = false;  ///< rows_before_ holds a frame that was left out
  bool has_before_ = false;
  std::uint64_t first_us_ = 0, last_us_ = 0;
  std::vector<float> sum_, squares_, before_;
  Levels rows_now_, rows_before_, columns_now_, columns_before_;
  Restlessness typical_row_, typical_column_;
  std::vector<float> line_steps_;  ///< of this frame, per line: share of its level
  std::vector<float> line_sizes_;  ///< their sizes, to take the middle of
  std::vector<double> swing_;      ///< per row and pair of quarters: sum of products
  std::vector<double> drift_;      ///< per row and quarter: sum of steps
};

}  // namespace bareglass::host
