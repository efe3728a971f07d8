#include "bareglass/advise/diagnose.hpp"

#include "bareglass/advise/next_steps.hpp"
#include "bareglass/infer/infer.hpp"

namespace bareglass::host {

Diagnosis diagnose(const Account& account) { return diagnose(account, shipped_steps()); }

Diagnosis diagnose(const Account& account, const StepTable& steps) {
  Diagnosis d = infer(account);
  d.next_steps = steps_for(steps, d.causes, account);
  d.cautions = steps.cautions;
  return d;
}

}  // namespace bareglass::host
