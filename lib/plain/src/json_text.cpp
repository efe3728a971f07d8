#include "bareglass/plain/json_text.hpp"

#include "bareglass/plain/harmless.hpp"

namespace bareglass::plain {

namespace {

using Json = nlohmann::ordered_json;

// Our documents nest a handful of levels.
void make_harmless(Json& value) {
  if (value.is_string())
    value = harmless(value.get_ref<const std::string&>());
  else if (value.is_structured())
    for (Json& part : value) make_harmless(part);
}

}  // namespace

std::string json_text(Json document) {
  make_harmless(document);
  return document.dump(2) + "\n";
}

}  // namespace bareglass::plain
