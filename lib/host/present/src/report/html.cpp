#include "bareglass/present/html.hpp"

#include <stdexcept>
#include <utility>

#include "bareglass/plain/harmless.hpp"

namespace bareglass::host::report {

std::string escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (const char c : plain::harmless_lines(text)) {
    if (c == '&')
      out += "&amp;";
    else if (c == '<')
      out += "&lt;";
    else if (c == '>')
      out += "&gt;";
    else if (c == '"')
      out += "&quot;";
    else if (c == '\'')
      out += "&#39;";
    else
      out += c;
  }
  return out;
}

void Html::open(const char* tag, std::string_view attributes) {
  out_ += '<';
  out_ += tag;
  if (!attributes.empty()) out_ += ' ';
  out_ += attributes;
  out_ += '>';
  open_.push_back(tag);
}

void Html::close() {
  if (open_.empty()) throw std::logic_error("Html::close without an open element");
  out_ += "</";
  out_ += open_.back();
  out_ += ">\n";
  open_.pop_back();
}

void Html::element(const char* tag, std::string_view words, std::string_view attributes) {
  open(tag, attributes);
  text(words);
  close();
}

std::string Html::take() {
  if (!open_.empty()) throw std::logic_error("Html::take with an open element");
  return std::move(out_);
}

void begin_page(Html& page, std::string_view title, std::string_view style) {
  page.raw("<!DOCTYPE html>\n");
  page.open("html", "lang=\"en\"");
  page.open("head");
  page.raw("<meta charset=\"utf-8\"/>\n");
  page.raw("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n");
  page.raw(
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
      "'unsafe-inline'\"/>\n");
  page.element("title", title);
  page.open("style");
  page.raw(style);
  page.close();
  page.close();
  page.open("body");
}

}  // namespace bareglass::host::report
