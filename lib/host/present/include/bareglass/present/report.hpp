#pragma once
// The explanation as pages that can be attached, printed and signed: a report for the work order
// and a plain page for the people on the ward. Each is one HTML file that asks for nothing outside
// itself and runs no script.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

/// The unit before and after the work, as a comparison of two dumps judged it.
struct BeforeAfter {
  struct Line {
    std::string what;  ///< "Largest departure"
    std::string before, after, limit;
    bool met = false;  ///< `after` keeps the limit
  };
  std::string verdict;  ///< one sentence
  bool accepted = false;
  std::vector<Line> lines;
  std::string dump = {};  ///< name of the dump from after the work
};

/// What the dump itself does not hold. Empty and absent: left out of the page.
struct ReportExtras {
  std::string dump;        ///< name of the dump
  std::string dump_date;   ///< when the dump was stored
  std::string written_on;  ///< today
  std::string program;     ///< "bareglass 0.1.0"
  std::optional<BeforeAfter> before_after;
};

/// The report: verdict, pictures, steps to tick, signature, then the chain, the evidence and what
/// remains unknown. Two pages on A4 and on Letter, legible in black and white.
std::string report_html(const Account& account, const Diagnosis& diagnosis,
                        const ReportExtras& extras);

/// The ward's page: where it lay, what happened in three sentences, what to do instead of taping.
/// No word of it asks for technical knowledge. One page.
std::string ward_page_html(const Account& account, const Diagnosis& diagnosis,
                           const ReportExtras& extras);

/// CRC-32C over the names and values of all settings: two reports with the same mark rest on the
/// same settings.
std::uint32_t settings_mark(const Settings& settings);

}  // namespace bareglass::host
