#pragma once
// What is measured on the reports of one step, and over all of them.

#include <vector>

#include "bareglass/touch/touch_test.hpp"

namespace bareglass::host {

double distance(PointMm a, PointMm b);
double distance_from_segment(PointMm at, PointMm from, PointMm to);

/// Everything but state and dropped contacts.
TouchStepResult measure_step(const TouchStep& step, const std::vector<PointMm>& places);

/// A node is asked for if a point or a line comes within 0.3 pitch of its middle.
std::vector<Coverage> coverage_of(const TouchPlan& plan, const std::vector<bool>& touched,
                                  Shape shape, PointMm pitch);

/// The plan's limits against `result`, whose steps and coverage are there. `errors`: distance of
/// every report on a point from it, mm.
std::vector<TouchCheck> check_limits(const TouchPlan& plan, const TouchResult& result,
                                     const std::vector<double>& errors, int extra);

}  // namespace bareglass::host
