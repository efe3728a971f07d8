#pragma once
// The answer in the forms a person or a program takes it: terminal text, JSON, a picture.

#include <string>
#include <vector>

#include "bareglass/answer/diagnosis.hpp"
#include "bareglass/present/heat_map.hpp"
#include "bareglass/replay/account.hpp"

namespace bareglass::host {

struct TextOptions {
  bool colour = false;
  bool all_events = false;  ///< every entry of the chain rather than the telling ones
};

/// Plain text, about 80 characters wide, ending in a newline.
std::string explanation_text(const std::string& file, const Account& account,
                             const Diagnosis& diagnosis, const TextOptions& options);

/// One JSON document (RFC 8259). Keys are stable; times in microseconds, signals in counts and
/// percent of a finger, places in lines and millimetres from the top left corner.
std::string explanation_json(const std::string& file, const Account& account,
                             const Diagnosis& diagnosis);

/// The decisive moment. Empty counts if the dump has none.
HeatMap explanation_picture(const Account& account, const Diagnosis& diagnosis);

/// Measured, predicted and what is left in units of noise, of the state in which the first thing
/// with a reconstruction was found. Empty if there is none.
std::vector<HeatMap> scene_pictures(const Account& account, const Diagnosis& diagnosis);

}  // namespace bareglass::host
