#pragma once
// Every JSON document that is written goes through here.

#include <nlohmann/json.hpp>
#include <string>

namespace bareglass::plain {

/// The document as UTF-8, indented, with a newline at its end. Its texts are made harmless
/// (plain/harmless.hpp): JSON itself would let C1 controls and marks of direction through to the
/// terminal, and a file's name need not be UTF-8. Its keys are ours.
std::string json_text(nlohmann::ordered_json document);

}  // namespace bareglass::plain
