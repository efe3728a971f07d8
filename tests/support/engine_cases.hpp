#pragma once
// Set-up that the tests of the engine share: a panel of 24 x 16 nodes, a policy, a unit that runs.

#include <gtest/gtest.h>

#include <functional>
#include <string>

#include "support/device.hpp"

namespace bareglass::support {

inline PanelSpec engine_panel(std::uint64_t seed) {
  PanelSpec p;
  p.shape = {24, 16};
  p.seed = seed;
  return p;
}

inline std::function<void(Settings&)> policy(StartPolicy p) {
  return [p](Settings& s) { s.policy = p; };
}

/// A unit powered up on bare glass, input on. Fails the test if it does not come on.
inline Device running(bool with_reference, const std::function<void(Settings&)>& change = {},
                      const PanelSpec& spec = engine_panel(61)) {
  Device device(spec, with_reference, change);
  device.power_up();
  EXPECT_TRUE(device.run_until(InputState::running, 1000));
  return device;
}

/// Names of parameters.
inline std::string policy_name(const ::testing::TestParamInfo<StartPolicy>& one) {
  const char* const names[] = {"lock", "wait", "adopt", "service"};  // 0 to 3
  return names[static_cast<int>(one.param)];
}

inline std::string reference_name(const ::testing::TestParamInfo<bool>& one) {
  return one.param ? "with_reference" : "without_reference";
}

inline std::string shape_name(const ::testing::TestParamInfo<Shape>& one) {
  return std::to_string(one.param.rows) + "_by_" + std::to_string(one.param.cols);
}

}  // namespace bareglass::support

// Found by GoogleTest through the namespace of what they print.
namespace bareglass {

inline void PrintTo(StartPolicy policy, std::ostream* out) {
  const char* const names[] = {"lock", "wait", "adopt", "service"};
  *out << names[static_cast<int>(policy)];
}

inline void PrintTo(const Shape& shape, std::ostream* out) {
  *out << int{shape.rows} << " x " << int{shape.cols};
}

}  // namespace bareglass
