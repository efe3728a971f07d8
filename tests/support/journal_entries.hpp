#pragma once
// Accounts by what their journal holds.

#include <initializer_list>

#include "bareglass/replay/account.hpp"

namespace bareglass::support {

/// `account` with the codes entered in this order, and input on at the end.
inline host::Account input_on_after(host::Account account,
                                    std::initializer_list<JournalCode> codes) {
  account.final_state = InputState::running;
  for (const JournalCode code : codes) {
    JournalEntry entry;
    entry.code = code;
    account.events.push_back(entry);
  }
  return account;
}

}  // namespace bareglass::support
