#pragma once
// What is said of settings. Whole sentences, so that a translation can order the words its own way.

#include <string>

#include "bareglass/core/settings.hpp"

namespace bareglass::host::text {

/// Name of a start policy: "lock", "wait", "adopt" or "service".
std::string policy(StartPolicy policy);
std::string wrong_setting(SettingsField field, const Settings& settings);

}  // namespace bareglass::host::text
