#pragma once
// What the nodes read of a situation, noise-free: the judge's own composition of couplings, layers
// and lines, with deliberate errors of the model in the second world.

#include <map>
#include <memory>
#include <vector>

#include "bareglass/panel/simulated_panel.hpp"
#include "world_case.hpp"

namespace bareglass::world {

class Forward {
 public:
  /// `c` must outlive it. The bare nodes' spread and the model errors follow from the case's seed,
  /// so that two of them agree.
  explicit Forward(const WorldCase& c);

  /// Charge per volt of every node, fF. `hum`: fF per volt of earth into each column.
  void read(panel::NodeMatrix& charge, Eigen::VectorXd& hum, const panel::Situation& now,
            const std::vector<panel::LineFault>& faults);
  const panel::NodeMatrix& bare() const { return bare_; }
  /// Change under an 8 mm earthed disc on the middle node as these lines read it, fF, > 0.
  double finger_ff();
  double node_ff() const;

 private:
  void add_layers(const std::vector<panel::Film>& layers);
  const panel::NodeMatrix& share_of(const panel::Film& layer);
  const panel::LineResponse& response(const std::vector<panel::LineFault>& faults);

  const WorldCase& case_;
  panel::GlassModel glass_;
  /// The same things, earthed: tells lost from passed on. Second world only.
  std::unique_ptr<panel::GlassModel> earthed_;
  panel::NodeMatrix bare_;
  panel::NodeMatrix factor_;  ///< error of the model on every change, 1 in the first world
  panel::NodeMatrix change_;
  panel::GlassResponse out_, lost_;
  struct Share {
    panel::OutlinePtr outline;
    field::Point place;
    panel::NodeMatrix part;
  };
  std::vector<Share> shares_;
  std::map<std::vector<double>, panel::LineResponse> responses_;
};

}  // namespace bareglass::world
