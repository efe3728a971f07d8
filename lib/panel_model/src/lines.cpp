#include "bareglass/panel_model/lines.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::panel {

namespace {

// A floating stretch of row `row`, columns first..last.
struct Floating {
  int row;
  int first;
  int last;
};

// Mirrors a place along a line so that 0 is nearest to the controller.
int from_controller(int at, int count, bool near_is_last) {
  return near_is_last ? count - 1 - at : at;
}

// First crossing beyond a cut, counted from the controller.
int beyond_cut(int at, int count, bool near_is_last) { return near_is_last ? count - at : at; }

// Crossings of `line` that its faults leave with the controller; counted from the controller.
int reach(int line, bool of_rows, int crossings, bool near_is_last,
          const std::vector<LineFault>& faults) {
  int out = crossings;
  for (const LineFault& f : faults) {
    if (f.of_rows != of_rows || line < f.first || line > f.last) continue;
    if (f.kind == LineFault::Kind::open_tail) out = 0;
    if (f.kind == LineFault::Kind::cut)
      out = std::min(out, beyond_cut(f.at, crossings, near_is_last));
  }
  return out;
}

double added_ohm(int line, bool of_rows, const std::vector<LineFault>& faults) {
  double sum = 0.0;
  for (const LineFault& f : faults)
    if (f.kind == LineFault::Kind::raised_resistance && f.of_rows == of_rows && line >= f.first &&
        line <= f.last)
      sum += f.ohm;
  return sum;
}

// The volts that row drivers impose on each row while `driven` is driven; NaN: row left floating.
Eigen::VectorXd driver_volts(const LineSpec& spec, int driven, int rows,
                             const std::vector<LineFault>& faults) {
  const double idle = spec.idle == IdleRows::low ? 0.0 : std::nan("");
  Eigen::VectorXd volts = Eigen::VectorXd::Constant(rows, idle);
  volts(driven) = 1.0;
  for (const LineFault& f : faults) {
    if (f.kind != LineFault::Kind::bridged || !f.of_rows) continue;
    if (f.first != driven && f.last != driven) continue;
    const int other = f.first == driven ? f.last : f.first;
    if (spec.idle == IdleRows::floating) {
      volts(other) = 1.0;  // nothing draws current once it has settled
      continue;
    }
    // Two drivers pull at the ends of the bridge.
    const double source = spec.driver_ohm + added_ohm(driven, true, faults);
    const double sink = spec.driver_ohm + added_ohm(other, true, faults);
    const double total = source + f.ohm + sink;
    volts(driven) = 1.0 - source / total;
    volts(other) = sink / total;
  }
  return volts;
}

// Solves the potentials of the floating stretches among rows whose other crossings are at `volts`
// (rows x columns), and fills them in. Charge on each stretch is zero; it sees its neighbour rows,
// and everything else at 0 V.
void fill_floating(Eigen::MatrixXd& volts, const std::vector<Floating>& stretches,
                   const field::PanelNumbers& numbers) {
  const auto count = static_cast<Eigen::Index>(stretches.size());
  if (count == 0) return;
  Eigen::MatrixXi owner = Eigen::MatrixXi::Constant(volts.rows(), volts.cols(), -1);
  for (Eigen::Index s = 0; s < count; ++s) {
    const Floating& f = stretches[static_cast<std::size_t>(s)];
    for (int c = f.first; c <= f.last; ++c) owner(f.row, c) = static_cast<int>(s);
  }
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(count, count);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(count);
  for (Eigen::Index s = 0; s < count; ++s) {
    const Floating& f = stretches[static_cast<std::size_t>(s)];
    for (int c = f.first; c <= f.last; ++c) {
      matrix(s, s) += numbers.row_self;
      for (const int beside : {f.row - 1, f.row + 1}) {
        if (beside < 0 || beside >= volts.rows()) continue;
        const int other = owner(beside, c);
        if (other >= 0)
          matrix(s, other) -= numbers.row_to_row;
        else
          right(s) += numbers.row_to_row * volts(beside, c);
      }
    }
  }
  const Eigen::VectorXd solved = matrix.ldlt().solve(right);
  for (Eigen::Index s = 0; s < count; ++s) {
    const Floating& f = stretches[static_cast<std::size_t>(s)];
    volts.block(f.row, f.first, 1, f.last - f.first + 1).setConstant(solved(s));
  }
}

}  // namespace

LineResponse::LineResponse(const LineSpec& spec, const field::PanelSpec& panel,
                           const field::PanelNumbers& numbers, field::LineRange lines,
                           const std::vector<LineFault>& faults)
    : rows_(lines.rows), columns_(lines.columns) {
  drive_rows(spec, numbers, faults);
  sense_columns(spec, numbers, faults);
  settle(spec, panel, numbers, faults);
}

void LineResponse::drive_rows(const LineSpec& spec, const field::PanelNumbers& numbers,
                              const std::vector<LineFault>& faults) {
  const bool near_is_last = spec.driven_at == RowEnd::right;
  drive_.resize(static_cast<std::size_t>(rows_));
  for (int driven = 0; driven < rows_; ++driven) {
    const Eigen::VectorXd imposed = driver_volts(spec, driven, rows_, faults);
    Eigen::MatrixXd volts = Eigen::MatrixXd::Zero(rows_, columns_);
    std::vector<Floating> stretches;
    for (int row = 0; row < rows_; ++row) {
      int held = reach(row, true, columns_, near_is_last, faults);
      if (std::isnan(imposed(row))) {
        if (held > 0)
          stretches.push_back(
              {row, near_is_last ? columns_ - held : 0, near_is_last ? columns_ - 1 : held - 1});
      } else {
        for (int c = 0; c < columns_; ++c)
          if (from_controller(c, columns_, near_is_last) < held) volts(row, c) = imposed(row);
      }
      if (held < columns_)
        stretches.push_back(
            {row, near_is_last ? 0 : held, near_is_last ? columns_ - held - 1 : columns_ - 1});
    }
    fill_floating(volts, stretches, numbers);
    for (int row = 0; row < rows_; ++row)
      if (row == driven || volts.row(row).cwiseAbs().maxCoeff() > 1e-6)
        drive_[static_cast<std::size_t>(driven)].push_back({row, volts.row(row)});
  }
}

void LineResponse::sense_columns(const LineSpec& spec, const field::PanelNumbers& numbers,
                                 const std::vector<LineFault>& faults) {
  const bool near_is_last = spec.sensed_at == ColumnEnd::bottom;
  // weights(from) per row: what column `from` hands to `to`.
  std::vector<Eigen::MatrixXd> given(static_cast<std::size_t>(rows_),
                                     Eigen::MatrixXd::Identity(columns_, columns_));
  for (int column = 0; column < columns_; ++column) {
    const int held = reach(column, false, rows_, near_is_last, faults);
    const int loose = rows_ - held;
    for (int row = 0; row < rows_; ++row) {
      if (from_controller(row, rows_, near_is_last) < held) continue;
      Eigen::MatrixXd& m = given[static_cast<std::size_t>(row)];
      m(column, column) = 0.0;
      // The loose stretch takes on a potential of C_m / (its own C) and passes a little of it on,
      // over its whole length: the lengths cancel.
      const double passed = loose > 0 ? numbers.column_to_column / numbers.column_self : 0.0;
      for (const int beside : {column - 1, column + 1})
        if (beside >= 0 && beside < columns_) m(beside, column) += passed;
    }
  }
  for (const LineFault& f : faults) {
    if (f.kind != LineFault::Kind::bridged || f.of_rows) continue;
    const double amplifier = spec.driver_ohm;
    // Both amplifiers hold 0 V: the current divides by resistance. One at a time: all of it.
    const double crossed =
        spec.amplifiers == Amplifiers::one_at_a_time ? 1.0 : amplifier / (2.0 * amplifier + f.ohm);
    const double kept = spec.amplifiers == Amplifiers::one_at_a_time ? 1.0 : 1.0 - crossed;
    for (Eigen::MatrixXd& m : given) {
      const Eigen::RowVectorXd a = m.row(f.first);
      const Eigen::RowVectorXd b = m.row(f.last);
      m.row(f.first) = kept * a + crossed * b;
      m.row(f.last) = kept * b + crossed * a;
    }
  }
  for (int to = 0; to < columns_; ++to) {
    for (int from = 0; from < columns_; ++from) {
      Mix mix{to, from, Eigen::VectorXd(rows_)};
      for (int row = 0; row < rows_; ++row)
        mix.part(row) = given[static_cast<std::size_t>(row)](to, from);
      const bool plain = to == from && (mix.part.array() == 1.0).all();
      mixed_ = mixed_ || (!plain && mix.part.any());
      if (mix.part.any()) mixes_.push_back(std::move(mix));
    }
  }
}

void LineResponse::settle(const LineSpec& spec, const field::PanelSpec& panel,
                          const field::PanelNumbers& numbers,
                          const std::vector<LineFault>& faults) {
  constexpr double kFemto = 1e-15;
  constexpr double kPico = 1e-12;
  const auto ladder = [&](int line, bool of_rows) {
    const int crossings = of_rows ? columns_ : rows_;
    const bool near_is_last =
        of_rows ? spec.driven_at == RowEnd::right : spec.sensed_at == ColumnEnd::bottom;
    const int held = reach(line, of_rows, crossings, near_is_last, faults);
    const double per_crossing = spec.sheet_ohm * panel.squares_per_crossing(of_rows);
    // Node 0 is the trace's end; half a crossing of line lies before the first crossing.
    Eigen::VectorXd ohm = Eigen::VectorXd::Constant(held + 1, per_crossing);
    Eigen::VectorXd farad = Eigen::VectorXd::Constant(
        held + 1, (of_rows ? numbers.row_self : numbers.column_self) * kFemto);
    ohm(0) = spec.driver_ohm + added_ohm(line, of_rows, faults);
    farad(0) = std::max(spec.trace_pf * kPico, 1e-18);
    if (held > 0) ohm(1) = std::max(0.5 * per_crossing, 1e-3);
    return ladder_modes(ohm.cwiseMax(1e-3), farad);
  };
  std::vector<LadderModes> of_row;
  std::vector<LadderModes> of_column;
  for (int r = 0; r < rows_; ++r) of_row.push_back(ladder(r, true));
  for (int c = 0; c < columns_; ++c) of_column.push_back(ladder(c, false));
  captured_ = NodeMatrix::Ones(rows_, columns_);
  const double half_period_s = spec.half_period_us * 1e-6;
  for (int r = 0; r < rows_; ++r) {
    const LadderModes& row = of_row[static_cast<std::size_t>(r)];
    for (int c = 0; c < columns_; ++c) {
      const LadderModes& column = of_column[static_cast<std::size_t>(c)];
      // A loose crossing follows its neighbours, which settle at the near end's pace.
      const Eigen::Index along =
          std::min<Eigen::Index>(from_controller(c, columns_, spec.driven_at == RowEnd::right) + 1,
                                 row.amplitude.rows() - 1);
      const Eigen::Index down =
          std::min<Eigen::Index>(from_controller(r, rows_, spec.sensed_at == ColumnEnd::bottom) + 1,
                                 column.amplitude.rows() - 1);
      captured_(r, c) = captured_part(row, along, column, down, half_period_s);
    }
  }
}

void LineResponse::apply(NodeMatrix& out, const NodeMatrix& capacitance) const {
  for (int r = 0; r < rows_; ++r) {
    const std::vector<Share>& shares = drive_[static_cast<std::size_t>(r)];
    out.row(r).setZero();
    for (const Share& share : shares)
      out.row(r).array() += share.volts.array() * capacitance.row(share.source).array();
  }
  if (mixed_) {
    NodeMatrix mixed = NodeMatrix::Zero(rows_, columns_);
    for (const Mix& m : mixes_) mixed.col(m.to).array() += m.part.array() * out.col(m.from).array();
    out = mixed;
  }
  out.array() *= captured_.array();
}

}  // namespace bareglass::panel
