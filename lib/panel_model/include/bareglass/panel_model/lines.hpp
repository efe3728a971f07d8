#pragma once
// Rows and columns as circuits: resistance, settling within the integration time, and faults.

#include <Eigen/Dense>
#include <vector>

#include "bareglass/field/surface_kernels.hpp"
#include "bareglass/panel_model/glass_model.hpp"

namespace bareglass::panel {

enum class RowEnd { left, right };      ///< where rows are driven: at column 0 or the last one
enum class ColumnEnd { top, bottom };   ///< where columns are sensed: at row 0 or the last one
enum class IdleRows { low, floating };  ///< what rows are held at while another one is driven
/// Whether both columns of a bridged pair have an amplifier at work at the same time.
enum class Amplifiers { all, one_at_a_time };

/// Circuit of the lines. Defaults: common practice, no source.
struct LineSpec {
  double sheet_ohm = 120.0;     ///< per square, 0..10000
  double driver_ohm = 500.0;    ///< of each driver and of each amplifier's input, 1..1e6
  double trace_pf = 8.0;        ///< of each line's trace to the controller, 0..1000
  double half_period_us = 2.0;  ///< T of the square drive, 0.05..1000
  RowEnd driven_at = RowEnd::left;
  ColumnEnd sensed_at = ColumnEnd::bottom;
  IdleRows idle = IdleRows::low;
  Amplifiers amplifiers = Amplifiers::all;
};

/// One damage. Lines count from 0.
struct LineFault {
  enum class Kind { open_tail, cut, bridged, raised_resistance };
  Kind kind = Kind::open_tail;
  bool of_rows = true;  ///< else of columns
  int first = 0;        ///< lines first..last; bridged: these two
  int last = 0;
  int at = 1;        ///< cut: between crossing at - 1 and at of the line, 1..crossings - 1
  double ohm = 0.0;  ///< raised: added in the tail; bridged: of the bridge
  /// Intermittent: mean times it is there and away, s; both 0: it is there all the time.
  double mean_there_s = 0.0;
  double mean_away_s = 0.0;
};

/// What the amplifiers collect of the nodes' capacitances, all faults considered.
class LineResponse {
 public:
  LineResponse(const LineSpec& spec, const field::PanelSpec& panel,
               const field::PanelNumbers& numbers, field::LineRange lines,
               const std::vector<LineFault>& faults);

  /// `out` (fF per volt of drive) of nodes with `capacitance`; sizes as given at construction.
  void apply(NodeMatrix& out, const NodeMatrix& capacitance) const;
  /// Part of the charge captured at each node, 0..1: settling alone.
  const NodeMatrix& captured() const { return captured_; }

 private:
  struct Share {  ///< row `source` carries `volts` (per column) while another one is driven
    int source;
    Eigen::RowVectorXd volts;
  };
  struct Mix {  ///< column `to` collects `part` of column `from`, in rows where part is not 0
    int to;
    int from;
    Eigen::VectorXd part;
  };
  void drive_rows(const LineSpec& spec, const field::PanelNumbers& numbers,
                  const std::vector<LineFault>& faults);
  void sense_columns(const LineSpec& spec, const field::PanelNumbers& numbers,
                     const std::vector<LineFault>& faults);
  void settle(const LineSpec& spec, const field::PanelSpec& panel,
              const field::PanelNumbers& numbers, const std::vector<LineFault>& faults);

  int rows_;
  int columns_;
  std::vector<std::vector<Share>> drive_;  ///< per driven row
  std::vector<Mix> mixes_;
  NodeMatrix captured_;
  bool mixed_ = false;
};

/// Response of a ladder of resistances and capacitances driven at one end: v(x, t) = 1 -
/// sum over k of amplitude(x, k) exp(-t / tau(k)) for a step of 1 V.
struct LadderModes {
  Eigen::MatrixXd amplitude;  ///< nodes x modes; rows add up to 1
  Eigen::VectorXd tau_s;      ///< falling
};
/// `ohm(k)` leads to node k (ohm(0) from the source), `farad(k)` from node k to ground.
LadderModes ladder_modes(const Eigen::VectorXd& ohm, const Eigen::VectorXd& farad);
/// Part of the swing that is there at each node at the end of each half period of a square wave in
/// steady state: sum of amplitude tanh(T / 2 tau).
Eigen::VectorXd captured_part(const LadderModes& modes, double half_period_s);
/// The same for a signal that passes node x of one ladder and then node y of another: exact for
/// the cascade of every pair of modes.
double captured_part(const LadderModes& first, Eigen::Index x, const LadderModes& then,
                     Eigen::Index y, double half_period_s);

}  // namespace bareglass::panel
