#pragma once
// Things on the glass as causes, with what speaks for and against each.

#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "reading.hpp"

namespace bareglass::host {

struct GlassCauses {
  std::vector<CauseFound> told;  ///< most weighty first
  /// Too weak and too doubtful to send anybody to clean: they only take from how sure a bare glass
  /// is.
  std::vector<CauseFound> faint;
};

/// What lay on the glass beside touches in use.
GlassCauses glass_causes(const Account& account, const Reading& reading);

}  // namespace bareglass::host
