// NumPy arrays: which dimension is what.

#include <fmt/format.h>

#include <stdexcept>

#include "matrix_layout.hpp"

namespace bareglass::host {

namespace {

NpyHead read_npy_head(InputBuffer& input, const std::string& name) {
  const std::size_t size =
      input.fill_to(kNpyPreambleBytes) ? npy_head_bytes(input.data()) : std::size_t{0};
  if (size < kNpyPreambleBytes || !input.fill_to(size))
    throw CaptureError(name, at_byte(0),
                       "expected a whole .npy head of version 1, 2 or 3, at most 64 KiB");
  const std::size_t offset = npy_dictionary_offset(input.data());
  try {
    const NpyHead head =
        parse_npy_dictionary({reinterpret_cast<const char*>(input.data()) + offset, size - offset});
    input.consume(size);
    return head;
  } catch (const std::runtime_error& problem) {
    throw CaptureError(name, at_byte(offset), problem.what());
  }
}

std::string sizes_text(const NpyHead& head) {
  return head.rows > 0 ? fmt::format("{} x {} x {}", head.frames, head.rows, head.cols)
                       : fmt::format("{} x {}", head.frames, head.width);
}

[[noreturn]] void fail_on(const std::string& name, const std::string& expected) {
  throw CaptureError(name, at_byte(0), expected);
}

/// Settles what an array leaves open; what can't follow from it goes to the questions.
class ArrayStudy {
 public:
  ArrayStudy(const NpyHead& head, const std::string& name, const OpenOptions& options)
      : head_(head), name_(name), options_(options) {}

  MatrixLayout run() {
    out_.type = head_.type;
    if (head_.rows > 0)
      settle_three();
    else
      settle_two();
    settle_values();
    apply_touch(out_, options_);
    settle_order_in_file();
    return out_;
  }

  TableReading reading;

 private:
  void ask(std::string about, std::vector<std::string> choices) {
    reading.questions.push_back({std::move(about), std::move(choices)});
  }

  void shape(int rows, int cols, std::uint64_t frames, bool turned) {
    out_.rows = rows;
    out_.cols = cols;
    out_.frames = frames;
    turned_ = turned;
    reading.understood.push_back(fmt::format("an array of {}: {} frames of {} rows x {} columns{}",
                                             sizes_text(head_), frames, rows, cols,
                                             turned ? ", columns first (turned)" : ""));
  }

  void settle_three() {
    const bool as_told = (options_.rows == 0 || options_.rows == head_.rows) &&
                         (options_.cols == 0 || options_.cols == head_.cols);
    const bool turned = (options_.rows == 0 || options_.rows == head_.cols) &&
                        (options_.cols == 0 || options_.cols == head_.rows);
    const bool columns_first = options_.table.order == NodeOrder::columns;
    if (!as_told && !turned)
      fail_on(name_,
              fmt::format("expected the rows and columns asked for, but the array has {} and {}",
                          head_.rows, head_.cols));
    if (columns_first ? turned : !as_told)
      shape(head_.cols, head_.rows, head_.frames, true);
    else
      shape(head_.rows, head_.cols, head_.frames, false);
  }

  void settle_two() {
    const auto nodes =
        static_cast<std::uint64_t>(options_.rows) * static_cast<std::uint64_t>(options_.cols);
    const auto rows = static_cast<std::uint64_t>(options_.rows);
    const auto cols = static_cast<std::uint64_t>(options_.cols);
    if (nodes == 0) return ask_for_shape();
    if (head_.width == nodes) return settle_frames_of_nodes();
    single_ = true;
    if (head_.frames == rows && head_.width == cols)
      return shape(options_.rows, options_.cols, 1, false);
    if (head_.frames == cols && head_.width == rows)
      return shape(options_.rows, options_.cols, 1, true);
    fail_on(name_, fmt::format("an array of {} is neither frames of {} nodes nor one frame of {} "
                               "rows and {} columns",
                               sizes_text(head_), nodes, rows, cols));
  }

  void settle_frames_of_nodes() {
    const std::optional<NodeOrder> order = options_.table.order;
    if (!order && options_.rows > 1 && options_.cols > 1)
      ask("the order of the nodes in a frame: row after row, or column after column",
          {"--order rows", "--order columns"});
    shape(options_.rows, options_.cols, head_.frames, order == NodeOrder::columns);
  }

  void ask_for_shape() {
    std::vector<std::string> choices;
    if (head_.frames >= 2 && head_.frames <= kMaxCaptureLines && head_.width >= 2 &&
        head_.width <= kMaxCaptureLines) {
      choices.push_back(
          fmt::format("--rows {} --columns {} (one frame)", head_.frames, head_.width));
      choices.push_back(
          fmt::format("--rows {} --columns {} (one frame)", head_.width, head_.frames));
    }
    choices.push_back(fmt::format("--rows R --columns C (R x C = {})", head_.width));
    ask(fmt::format("rows and columns of an array of {}", sizes_text(head_)), std::move(choices));
    // For a trial: each line as a frame of one row.
    const bool fits = head_.width <= kMaxCaptureLines;
    if (!fits) fail_on(name_, "expected --rows and --columns");
    shape(1, static_cast<int>(head_.width), head_.frames, false);
  }

  void settle_values() {
    // Integers of 8 and 16 bits are what this program writes: their sign says what they are.
    const bool ours = !head_.type.is_float && head_.type.bytes <= 2;
    if (!options_.values && !ours)
      ask("whether the numbers are raw counts or differences from the baseline",
          {"--values raw", "--values difference"});
    if (!options_.table.touch_raises && !ours)
      ask("whether a touch lowers or raises the numbers", {"--touch lowers", "--touch raises"});
    out_.kind = options_.values.value_or(ours && head_.type.is_signed ? FrameKind::difference
                                                                      : FrameKind::raw);
  }

  /// Steps between neighbours: in C order the last dimension is together, in Fortran order the
  /// first.
  void settle_order_in_file() {
    const auto rows = static_cast<std::size_t>(out_.rows);
    const auto cols = static_cast<std::size_t>(out_.cols);
    const auto frames = static_cast<std::size_t>(*out_.frames);
    out_.row_step = turned_ ? 1 : cols;
    out_.col_step = turned_ ? rows : 1;
    if (!head_.columns_first) return;
    constexpr std::uint64_t kMostBytes = std::uint64_t{1} << 30;
    if (frames == 0) return;
    if (out_.frame_bytes() > kMostBytes / frames)
      fail_on(name_, "expected at most 1 GiB in Fortran order, which is read as a whole");
    out_.scattered = true;
    out_.frame_step = single_ ? 0 : 1;
    const std::size_t unit = single_ ? 1 : frames;
    if (head_.rows > 0 || single_) {
      // The dimension that comes first in the file.
      const std::size_t first = turned_ ? cols : rows;
      out_.row_step = turned_ ? unit * first : unit;
      out_.col_step = turned_ ? unit : unit * first;
    } else {
      out_.row_step *= frames;
      out_.col_step *= frames;
    }
  }

  const NpyHead& head_;
  const std::string& name_;
  const OpenOptions& options_;
  MatrixLayout out_;
  bool turned_ = false, single_ = false;
};

}  // namespace

std::unique_ptr<CaptureReader> make_npy_reader(Buffer input, const std::string& name,
                                               const OpenOptions& options) {
  const NpyHead head = read_npy_head(*input, name);
  ArrayStudy study(head, name, options);
  const MatrixLayout layout = study.run();
  if (!options.table.trial) {
    refuse_open_questions(study.reading, "array", name);
    need_period(options, name);
  }
  return make_matrix_reader(std::move(input), name, CaptureFormat::npy, layout, options,
                            std::move(study.reading));
}

}  // namespace bareglass::host
