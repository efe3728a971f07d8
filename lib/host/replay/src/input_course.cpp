#include "bareglass/replay/input_course.hpp"

namespace bareglass::host {

InputCourse input_course(const Account& a) {
  InputCourse c;
  c.known = a.kind == DumpKind::from_power_up;
  if (!c.known) return c;
  for (const JournalEntry& e : a.events) {
    switch (e.code) {
      case JournalCode::input_off:
      case JournalCode::service_entered:
        c.refused = true;
        c.restarted = c.waited = false;
        break;
      case JournalCode::waiting:
        c.refused = c.waited = true;
        c.restarted = false;
        break;
      case JournalCode::power_up:
        c.restarted = c.refused;
        c.object_in_baseline = false;
        break;
      case JournalCode::adopted:
        c.adopted = c.object_in_baseline = true;
        break;
      case JournalCode::glass_bare:
        c.object_in_baseline = false;
        break;
      default:
        break;
    }
  }
  c.on = a.final_state == InputState::running;
  return c;
}

}  // namespace bareglass::host
