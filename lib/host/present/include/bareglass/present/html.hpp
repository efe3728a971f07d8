#pragma once
// Markup that is balanced by construction, and text that stays text.

#include <string>
#include <string_view>
#include <vector>

namespace bareglass::host::report {

/// `text` for an HTML text or a quoted attribute. Markup characters become entities, what is not
/// harmless (plain/harmless.hpp) is shown as its code; line feeds and tabs stay.
std::string escaped(std::string_view text);

class Html {
 public:
  /// `attributes` are written as they are: constants and numbers only.
  void open(const char* tag, std::string_view attributes = {});
  void close();
  void text(std::string_view text) { out_ += escaped(text); }
  /// A whole element with text in it.
  void element(const char* tag, std::string_view text, std::string_view attributes = {});
  /// Markup made elsewhere, balanced in itself.
  void raw(std::string_view markup) { out_ += markup; }
  /// Precondition: everything is closed.
  std::string take();

 private:
  std::string out_;
  std::vector<const char*> open_;
};

/// Opens the document up to and including <body>; the caller closes body and html.
void begin_page(Html& page, std::string_view title, std::string_view style);

}  // namespace bareglass::host::report
