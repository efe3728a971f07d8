#pragma once
// The report's second page, section by section.

#include "bareglass/present/html.hpp"
#include "bareglass/present/report.hpp"

namespace bareglass::host::report {

/// <dt>/<dd> of where, when and how much.
void place_facts(Html& page, const CauseFound& cause, const Account& account);

/// The timeline.
void course(Html& page, const Account& account, const Diagnosis& diagnosis);

/// The chain of decisions; for and against, cause by cause. Precondition: there is a cause.
void evidence(Html& page, const Account& account, const Diagnosis& diagnosis);

/// Measured, predicted and what is left; nothing without a reconstruction.
void scene_maps(Html& page, const Account& account, const Diagnosis& diagnosis);

void before_after(Html& page, const BeforeAfter& comparison);

/// What the dump can't tell, and its notes.
void unknowns(Html& page, const Account& account, const Diagnosis& diagnosis);

/// Frames, limits and program the answer rests on.
void basis(Html& page, const Account& account, const ReportExtras& extras);

}  // namespace bareglass::host::report
