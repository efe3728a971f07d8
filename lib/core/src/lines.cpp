#include "bareglass/core/lines.hpp"

#include "bareglass/core/arith.hpp"
#include "line_runs.hpp"

namespace bareglass {

namespace {

// Beyond this share of a finger's signal nothing on the glass takes a reading: a full grounded
// cover takes 1.03 of the signal of an 8 mm disc (field solution; 1.01 to 1.19 on other glass).
constexpr std::int32_t kBeyondSurfacePermille = 1400;
// Nodes of a line that must lose alike for the loss to be the line's: a touch may lie on it.
constexpr std::int32_t kAlikePermille = 750;
// A fault of almost all lines is none of a line.
constexpr std::int32_t kAllLinesPermille = 900;

/// Rows or columns of the panel, addressed alike.
struct Lines {
  const LineReadings& panel;
  bool of_rows;
  View<std::int16_t> loss;  ///< permille * 2, plus one if the line loses alike all along

  int count() const { return of_rows ? panel.shape.rows : panel.shape.cols; }
  int length() const { return of_rows ? panel.shape.cols : panel.shape.rows; }
  std::size_t node(int line, int k) const {
    return of_rows ? panel.at(line, k) : panel.at(k, line);
  }
  std::int32_t loss_of(int line) const { return loss[static_cast<std::size_t>(line)] >> 1; }
  bool alike(int line) const { return (loss[static_cast<std::size_t>(line)] & 1) != 0; }
  /// Permille of the node's bare reading; a node without one has lost nothing.
  std::int32_t node_loss(std::size_t i) const {
    const std::int32_t bare = panel.bare(i);
    return bare <= 0 ? 0 : clamp_i32(panel.difference[i] * 1000 / bare, -4000, 4000);
  }
  /// Nothing is read where a reading of at least two fingers should be.
  bool dead(std::size_t i) const {
    return panel.bare(i) >= 2 * panel.finger && node_loss(i) >= kDeadPermille;
  }
};

void measure_lines(const Lines& lines) {
  const int length = lines.length();
  for (int line = 0; line < lines.count(); ++line) {
    const View<std::int16_t> sort{lines.panel.sort.data, static_cast<std::size_t>(length)};
    for (int k = 0; k < length; ++k)
      sort[static_cast<std::size_t>(k)] =
          static_cast<std::int16_t>(lines.node_loss(lines.node(line, k)));
    const std::int32_t median = median_in_place(sort);
    const std::int32_t fifth = abs_i32(median) / 5;
    const std::int32_t tolerance = fifth > 6 ? fifth : 6;
    std::int32_t alike = 0;
    for (const std::int16_t v : sort) alike += abs_i32(v - median) <= tolerance ? 1 : 0;
    const int bit = 1000 * alike >= kAlikePermille * length ? 1 : 0;
    lines.loss[static_cast<std::size_t>(line)] = static_cast<std::int16_t>(median * 2 + bit);
  }
}

Box box_of(const Lines& lines, int first, int last, int from, int to) {
  const auto byte = [](int v) { return static_cast<std::uint8_t>(v); };
  return lines.of_rows ? Box{byte(first), byte(last), byte(from), byte(to)}
                       : Box{byte(from), byte(to), byte(first), byte(last)};
}

void take_nodes(FaultyNodes nodes, const Lines& lines, int line, int from, int to) {
  LineSpan& span = lines.of_rows ? nodes.row[static_cast<std::size_t>(line)]
                                 : nodes.col[static_cast<std::size_t>(line)];
  if (span.empty()) {
    span = {static_cast<std::uint8_t>(from), static_cast<std::uint8_t>(to + 1)};
    return;
  }
  if (from < span.from) span.from = static_cast<std::uint8_t>(from);
  if (to >= span.end) span.end = static_cast<std::uint8_t>(to + 1);
}

void take_peak(LineFault& fault, const LineReadings& panel) {
  fault.peak = 0;
  for (int r = fault.box.row0; r <= fault.box.row1; ++r)
    for (int c = fault.box.col0; c <= fault.box.col1; ++c) {
      const std::int16_t d = panel.difference[panel.at(r, c)];
      if (abs_i32(d) <= abs_i32(fault.peak)) continue;
      fault.peak = d;
      fault.peak_row = static_cast<std::uint8_t>(r);
      fault.peak_col = static_cast<std::uint8_t>(c);
    }
}

// Noise of a line's loss in permille: a median over n nodes has about 1.25/sqrt(n) of a node's.
std::int32_t noise_permille(const Lines& lines, const LineFault& fault) {
  const std::int32_t bare = lines.panel.bare(lines.panel.at(fault.peak_row, fault.peak_col));
  return bare <= 0 ? 0 : lines.panel.sigma_q4 * 1000 / (16 * bare * 2) + 1;
}

LineFault* add_fault(LineFaults& faults, const Lines& lines, FindingKind kind, int first, int last,
                     std::int32_t against) {
  if (faults.count >= LineFaults::kMaxFaults) {
    ++faults.dropped;  // fewer than there are lines
    return nullptr;
  }
  LineFault& fault = faults.fault[faults.count++];
  fault = LineFault{};
  fault.kind = kind;
  fault.place.of_rows = lines.of_rows;
  fault.place.first = static_cast<std::uint8_t>(first);
  fault.place.last = static_cast<std::uint8_t>(last);
  fault.box = box_of(lines, first, last, 0, lines.length() - 1);
  std::int32_t sum = 0;
  for (int line = first; line <= last; ++line) sum += lines.loss_of(line);
  fault.loss = static_cast<std::int16_t>(sum / (last - first + 1));
  fault.limit = static_cast<std::int16_t>(
      kind == FindingKind::bridged_lines
          ? -kDoubledPermille
          : (kind == FindingKind::open_line ? kDeadPermille : kLowLinePermille));
  take_peak(fault, lines.panel);
  fault.score = static_cast<std::int16_t>(
      score_of(fault.loss, fault.limit, noise_permille(lines, fault), against));
  return &fault;
}

// What a film or a fluid at the bezel would do as well: loses no more than a full cover, and the
// line beside it, where there is one, shows a skirt. A border has no line beside it.
bool could_be_on_the_glass(const Lines& lines, int first, int last) {
  std::int32_t most = 0;
  for (int line = first; line <= last; ++line)
    if (lines.loss_of(line) > most) most = lines.loss_of(line);
  const std::int32_t bare = lines.panel.bare(lines.node(first, lines.length() / 2));
  const std::int32_t counts = permille_of(bare, most);
  if (counts > permille_of(lines.panel.finger, kBeyondSurfacePermille)) return false;
  if (first == 0 || last == lines.count() - 1) return true;
  // A film's own skirt may be low enough to count as a line of the group: its edge is not sharp.
  constexpr std::int32_t kSharpPermille = 600;
  if (first < last && (lines.loss_of(first) * 1000 < kSharpPermille * lines.loss_of(first + 1) ||
                       lines.loss_of(last) * 1000 < kSharpPermille * lines.loss_of(last - 1)))
    return true;
  return lines.loss_of(first - 1) * 1000 > kLineSkirtPermille * lines.loss_of(first) ||
         lines.loss_of(last + 1) * 1000 > kLineSkirtPermille * lines.loss_of(last);
}

void judge_low_run(LineFaults& faults, FaultyNodes nodes, const Lines& lines, int first, int last) {
  const int wide = last - first + 1;
  if (2 * wide > lines.count() || could_be_on_the_glass(lines, first, last)) return;
  FindingKind kind = FindingKind::tail_group;
  if (wide == 1)
    kind = lines.loss_of(first) >= kDeadPermille ? FindingKind::open_line
                                                 : FindingKind::raised_resistance;
  if (add_fault(faults, lines, kind, first, last, 1000) == nullptr) return;
  for (int line = first; line <= last; ++line)
    take_nodes(nodes, lines, line, 0, lines.length() - 1);
}

void find_whole_lines(LineFaults& faults, FaultyNodes nodes, const Lines& lines) {
  const std::int32_t limit = lines.panel.limit;
  for_runs(
      lines.count(),
      [&](int line) {
        const std::int32_t bare = lines.panel.bare(lines.node(line, lines.length() / 2));
        return lines.alike(line) && lines.loss_of(line) >= kLowLinePermille &&
               permille_of(bare < 0 ? 0 : bare, lines.loss_of(line)) >= limit;
      },
      [&](int first, int last) { judge_low_run(faults, nodes, lines, first, last); });
  for_runs(
      lines.count(),
      [&](int line) { return lines.alike(line) && lines.loss_of(line) <= -kDoubledPermille; },
      [&](int first, int last) {
        if (last != first + 1) return;
        if (add_fault(faults, lines, FindingKind::bridged_lines, first, last, 1000) == nullptr)
          return;
        for (int line = first; line <= last; ++line)
          take_nodes(nodes, lines, line, 0, lines.length() - 1);
      });
}

// Nodes that read nothing from one end of a line on; those of other faults don't count.
int dead_from_end(const FaultyNodes& nodes, const Lines& lines, int line, bool from_start) {
  int reach = 0;
  int dead = 0;
  for (int step = 0; step < lines.length(); ++step) {
    const int k = from_start ? step : lines.length() - 1 - step;
    const int row = lines.of_rows ? line : k;
    const int col = lines.of_rows ? k : line;
    if (nodes.covers(row, col)) continue;
    if (!lines.dead(lines.panel.at(row, col))) break;
    ++dead;
    reach = step + 1;
  }
  return dead >= 2 ? reach : 0;
}

// Breaks of neighbouring lines not far from each other are one crack.
bool continues_crack(const LineFaults& faults, const Lines& lines, int line, int at,
                     bool from_start) {
  constexpr int kFarthest = 3;
  if (faults.count == 0) return false;
  const LineFault& before = faults.fault[faults.count - 1];
  const int start = lines.of_rows ? before.box.col0 : before.box.row0;
  return before.kind == FindingKind::cut_line && before.place.of_rows == lines.of_rows &&
         before.place.last == line - 1 && (start == 0) == from_start &&
         abs_i32(before.place.at_last - at) <= kFarthest;
}

void add_cut(LineFaults& faults, FaultyNodes nodes, const Lines& lines, int line, int reach,
             bool from_start) {
  const int last = lines.length() - 1;
  const int at = from_start ? reach : lines.length() - reach;
  const int from = from_start ? 0 : at;
  const int to = from_start ? reach - 1 : last;
  take_nodes(nodes, lines, line, from, to);
  LineFault* fault = nullptr;
  Box box = box_of(lines, line, line, from, to);
  if (continues_crack(faults, lines, line, at, from_start)) {
    fault = &faults.fault[faults.count - 1];
    box = enclosing(fault->box, box);
  } else {
    fault = add_fault(faults, lines, FindingKind::cut_line, line, line, 1000);
    if (fault == nullptr) return;
    fault->place.at = static_cast<std::uint8_t>(at);
    fault->limit = kDeadPermille;
  }
  fault->place.last = static_cast<std::uint8_t>(line);
  fault->place.at_last = static_cast<std::uint8_t>(at);
  fault->box = box;
  take_peak(*fault, lines.panel);
  const std::size_t peak = lines.panel.at(fault->peak_row, fault->peak_col);
  fault->loss = static_cast<std::int16_t>(lines.node_loss(peak));
  // Two nodes could be a fault of their own; every further one makes the line more certain.
  const int nodes_lost = box.height() * box.width();
  fault->score = static_cast<std::int16_t>(score_of(
      fault->loss, fault->limit, noise_permille(lines, *fault), nodes_lost < 4 ? 700 : 1000));
}

void find_cuts(LineFaults& faults, FaultyNodes nodes, const Lines& lines) {
  for (int line = 0; line < lines.count(); ++line)
    for (int end = 0; end < 2; ++end) {
      const bool from_start = end == 1;
      const int reach = dead_from_end(nodes, lines, line, from_start);
      if (reach == 0 || reach >= lines.length()) continue;
      add_cut(faults, nodes, lines, line, reach, from_start);
    }
}

// A dead row no longer screens its neighbours: they rise, and tell as little of the glass. Of a
// crack, so do the near parts of its own lines.
void take_raised_neighbours(const LineFaults& faults, FaultyNodes nodes, const Lines& lines) {
  for (int f = 0; f < faults.count; ++f) {
    const LineFault& fault = faults.fault[f];
    if (fault.place.of_rows != lines.of_rows || fault.loss < kDeadPermille) continue;
    const int from = lines.of_rows ? fault.box.col0 : fault.box.row0;
    const int to = lines.of_rows ? fault.box.col1 : fault.box.row1;
    for (int line = fault.place.first - 1; line <= fault.place.last + 1; ++line) {
      if (line < 0 || line >= lines.count()) continue;
      for (int k = from; k <= to; ++k)
        if (lines.panel.difference[lines.node(line, k)] <= -lines.panel.limit / 2)
          take_nodes(nodes, lines, line, k, k);
    }
  }
}

// How the loss grows with the bare reading, against their ratio, permille: 1000 for a drive that
// has fallen, near 0 for a cover, which takes the same from every node.
std::int32_t proportion(const LineReadings& panel, std::int32_t loss) {
  const auto n = static_cast<std::size_t>(panel.shape.nodes());
  std::int32_t bare_sum = 0;  // at most 2^14 nodes of 17 bits
  std::int32_t lost_sum = 0;
  for (std::size_t i = 0; i < n; ++i) {
    bare_sum += panel.bare(i);
    lost_sum += panel.difference[i];
  }
  const std::int32_t bare_mean = bare_sum / panel.shape.nodes();
  const std::int32_t lost_mean = lost_sum / panel.shape.nodes();
  std::int64_t both = 0;
  std::int64_t bare_sq = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const std::int64_t x = panel.bare(i) - bare_mean;
    both += x * (panel.difference[i] - lost_mean);
    bare_sq += x * x;
  }
  return loss == 0 ? 0 : share_permille(both, bare_sq) * 1000 / loss;
}

bool find_sag(LineFaults& faults, FaultyNodes nodes, const Lines& rows) {
  constexpr std::int32_t kProportional = 500;
  int low = 0;
  std::int32_t least = 4000;
  std::int32_t most = 0;
  for (int r = 0; r < rows.count(); ++r) {
    if (!rows.alike(r) || rows.loss_of(r) < kLowLinePermille) continue;
    ++low;
    least = rows.loss_of(r) < least ? rows.loss_of(r) : least;
    most = rows.loss_of(r) > most ? rows.loss_of(r) : most;
  }
  if (1000 * low < kAllLinesPermille * rows.count() || most - least > most / 4) return false;
  const std::int32_t follows = proportion(rows.panel, (most + least) / 2);
  // One frame's noise blurs the proportion; what has been told from some holds for the next.
  const std::int32_t least_proportion = rows.panel.was_sagging ? -kProportional : kProportional;
  if (rows.panel.supply_is_good || follows < least_proportion) return false;
  const LineFault* fault = add_fault(faults, rows, FindingKind::supply_sag, 0, rows.count() - 1,
                                     clamp_i32(follows, 500, 1000));
  if (fault == nullptr) return false;
  faults.fault[faults.count - 1].place = LinePlace{};
  for (int r = 0; r < rows.count(); ++r) take_nodes(nodes, rows, r, 0, rows.length() - 1);
  return true;
}

}  // namespace

void find_line_faults(LineFaults& faults, FaultyNodes nodes, const LineReadings& readings) {
  faults.count = faults.dropped = 0;
  for (LineSpan& span : nodes.row) span = LineSpan{};
  for (LineSpan& span : nodes.col) span = LineSpan{};
  if (readings.shape.rows < kLeastLines || readings.shape.cols < kLeastLines) return;
  const Lines rows{readings, true, readings.row_loss};
  const Lines cols{readings, false, readings.col_loss};
  measure_lines(rows);
  measure_lines(cols);
  if (find_sag(faults, nodes, rows)) return;
  find_whole_lines(faults, nodes, rows);
  find_whole_lines(faults, nodes, cols);
  find_cuts(faults, nodes, rows);
  find_cuts(faults, nodes, cols);
  take_raised_neighbours(faults, nodes, rows);
  take_raised_neighbours(faults, nodes, cols);
}

}  // namespace bareglass
