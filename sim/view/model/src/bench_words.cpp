#include "bareglass/view/bench_words.hpp"

#include <algorithm>
#include <initializer_list>

#include "bareglass/view/plain_words.hpp"

namespace bareglass::view {

namespace {

using Codes = std::initializer_list<JournalCode>;

// Codes that can have led to a state.
Codes leading_to(InputState state) {
  static constexpr Codes kOff = {JournalCode::input_off};
  static constexpr Codes kService = {JournalCode::service_entered, JournalCode::input_off};
  static constexpr Codes kWaiting = {JournalCode::glass_not_bare, JournalCode::unsteady,
                                     JournalCode::spread_hides, JournalCode::start_saturated,
                                     JournalCode::input_off};
  static constexpr Codes kRunning = {
      JournalCode::glass_bare,         JournalCode::adopted,
      JournalCode::input_on,           JournalCode::object_lifted,
      JournalCode::baseline_disproved, JournalCode::phantom_held_back,
      JournalCode::contact_judged};
  switch (state) {
    case InputState::off:
    case InputState::paused:
      return kOff;
    case InputState::service:
      return kService;
    case InputState::waiting:
    case InputState::looking:  // again, while input is off
      return kWaiting;
    case InputState::running:
      return kRunning;
    default:
      return {};
  }
}

bool among(JournalCode code, Codes codes) {
  return std::find(codes.begin(), codes.end(), code) != codes.end();
}

}  // namespace

const JournalEntry* deciding_entry(const Engine& device) {
  const Codes codes = leading_to(device.state());
  const Journal& journal = device.journal();
  for (std::uint32_t n = journal.end(); n-- > journal.first();) {
    const JournalEntry& entry = journal.at(n);
    // "Input was switched on" tells nothing that the look before it does not tell better.
    if (entry.code == JournalCode::input_on) continue;
    if (among(entry.code, codes)) return &entry;
    if (entry.code == JournalCode::power_up) return nullptr;
  }
  return nullptr;
}

std::string state_sentence(const Engine& device, bool powered) {
  if (!powered) return "The unit is switched off.";
  std::string words = plain_state(device.state(), device.settings().policy);
  // "input off, looking at the glass" as a sentence of its own.
  if (words.rfind("input off", 0) == 0) words.replace(0, 9, "Input is off");
  if (words.rfind("input on", 0) == 0) words.replace(0, 8, "Input is on");
  if (device.state() == InputState::unpowered) return "The unit is switched off.";
  return words + '.';
}

std::string reason_sentence(const Engine& device, bool powered) {
  if (!powered) return {};
  const JournalEntry* entry = deciding_entry(device);
  return entry == nullptr ? std::string() : plain_event(*entry, device.settings());
}

const char* word_of(FindingKind kind) {
  switch (static_cast<int>(kind)) {
    case 0:
      return "none";
    case 1:
      return "held_touch";
    case 2:
      return "raised_plateau";
    case 3:
      return "lowered_plateau";
    case 4:
      return "border_band";
    case 5:
      return "two_sign_conductor";
    case 6:
      return "unknown";
    case 7:
      return "lone_node";
    case 8:
      return "faint_film";
    case 9:
      return "drops";
    case 64:
      return "open_line";
    case 65:
      return "cut_line";
    case 66:
      return "bridged_lines";
    case 67:
      return "raised_resistance";
    case 68:
      return "tail_group";
    case 69:
      return "intermittent_line";
    case 128:
      return "interference";
    case 129:
      return "common_mode";
    case 130:
      return "weak_coupling";
    case 131:
      return "supply_sag";
    default:
      return "unknown";
  }
}

}  // namespace bareglass::view
