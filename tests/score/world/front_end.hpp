#pragma once
// From charge to counts in the judge's worlds.

#include <vector>

#include "bareglass/panel/random.hpp"
#include "forward.hpp"
#include "world_case.hpp"

namespace bareglass::world {

class FrontEnd {
 public:
  FrontEnd(const WorldCase& c, const panel::NodeMatrix& bare_charge);

  /// What the factory stored: bare glass, another gain and age, its own noise.
  std::vector<std::uint16_t> reference();
  /// One scan that ends at `t_s` of the story, `since_s` after the power came.
  void digitise(std::vector<std::uint16_t>& out, const panel::NodeMatrix& charge,
                const Eigen::VectorXd& hum, const panel::DeviceState& device, double t_s,
                double since_s);

 private:
  std::uint16_t counts(double ff) const;
  double gain_at(const panel::DeviceState& device, double t_s, double since_s) const;
  void flicker(std::vector<double>& noise, double dt_s);
  void popcorn(std::vector<double>& noise, double dt_s);

  const WorldCase& case_;
  panel::NodeMatrix bare_;
  panel::Random noise_;
  panel::Random factory_;
  panel::Random slow_;
  double top_counts_ = 0.0;  ///< counts of nothing where a touch raises them
  std::vector<double> row_gain_;
  /// Ornstein-Uhlenbeck processes of 0.05, 0.3 and 2 s: together about 1/f over two decades.
  static constexpr double kTaus[] = {0.05, 0.3, 2.0};
  std::vector<double> wander_;
  struct Jumper {
    std::size_t node = 0;
    bool high = false;
  };
  std::vector<Jumper> jumpers_;
  std::vector<double> extra_;
  double last_s_ = -1.0;
};

}  // namespace bareglass::world
