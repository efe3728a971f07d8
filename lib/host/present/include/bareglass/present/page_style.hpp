#pragma once
// How the pages look on a screen and on paper. The paper's size is the printer's: nothing is set
// but margins, so that A4 and Letter both fit.

namespace bareglass::host::report {

extern const char* const kReportStyle;
extern const char* const kWardStyle;
extern const char* const kFleetStyle;

}  // namespace bareglass::host::report
