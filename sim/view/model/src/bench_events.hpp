#pragma once
// Events that bring a scene from one state to another.

#include <vector>

#include "bareglass/panel/scenario.hpp"

namespace bareglass::view {

panel::Event thing_event(const char* word, panel::Action action, std::size_t thing);
panel::Event fault_event(const panel::NamedFault& fault);
panel::Event device_event(const char* word, panel::Action action, double value);

/// Appends what makes thing `index` of `story` lie as `to` says.
void restore_thing(std::vector<panel::Event>& out, const panel::Scenario& story, std::size_t index,
                   const panel::ThingState& now, const panel::ThingState& to);
void restore_lines(std::vector<panel::Event>& out, const std::vector<panel::NamedFault>& now,
                   const std::vector<panel::NamedFault>& to);
void restore_device(std::vector<panel::Event>& out, const panel::DeviceState& now,
                    const panel::DeviceState& to);

}  // namespace bareglass::view
