// The kernel file format. Line by line:
//   bareglass-kernels 1        the version
//   input TEXT                 what the kernels were made from (see kernel_input)
//   NAME N v1 .. vN            a list of N numbers, in the fixed order of visit()
//   checksum HEX               FNV-1a, 64 bits, of all bytes before this line
// For example `pitch 2 5 5`.

#include <array>
#include <charconv>
#include <cstdint>
#include <functional>
#include <sstream>
#include <string_view>

#include "bareglass/field/kernel_store.hpp"

namespace bareglass::field {

namespace {

constexpr const char* kVersion = "bareglass-kernels 1";

/// Fowler, Noll & Vo, variant 1a, 64 bits.
std::uint64_t fnv1a(std::string_view text) {
  std::uint64_t hash = 14695981039346656037ULL;
  for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  return hash;
}

std::string hex(std::uint64_t value) {
  std::array<char, 16> digits{};
  const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), value, 16).ptr;
  return {digits.data(), end};
}

using Numbers = std::function<void(const char* name, std::vector<double*> values)>;
using List = std::function<void(const char* name, std::vector<double>& values)>;

void visit(SurfaceKernels& k, const Numbers& numbers, const List& list) {
  numbers("pitch", {&k.column_pitch_mm, &k.row_pitch_mm});
  PanelNumbers& n = k.numbers;
  numbers("numbers", {&n.node, &n.full_loss, &n.loss_by_row, &n.loss_by_column, &n.row_to_row,
                      &n.column_to_column, &n.row_self, &n.column_self, &n.cover_per_mm2});
  numbers("residuals",
          {&k.loss_residual[0], &k.loss_residual[1], &k.row_residual, &k.column_residual});
  numbers("cover_permittivity", {&k.cover_permittivity});
  Allowances& a = k.allowances;
  numbers("allowances", {&a.line_mm, &a.self_mm, &a.loss_mm, &a.loss_power});
  const auto both = [&](const char* x_name, const char* y_name, Separable& s) {
    list(x_name, s.x.bins);
    list(y_name, s.y.bins);
  };
  numbers("steps", {&k.q_row.x.step_mm, &k.q_row.y.step_mm});
  both("q_row.x", "q_row.y", k.q_row);
  both("q_column.x", "q_column.y", k.q_column);
  both("phi_row.x", "phi_row.y", k.phi_row);
  both("phi_column.x", "phi_column.y", k.phi_column);
  both("loss1.x", "loss1.y", k.loss[0]);
  both("loss2.x", "loss2.y", k.loss[1]);
}

void append(std::string& out, double value) {
  std::array<char, 32> digits{};
  const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), value).ptr;
  out.push_back(' ');
  out.append(digits.data(), end);
}

/// Reads the quantities of a text whose checksum has been found good.
class Reader {
 public:
  Reader(const std::string& text, std::string file) : in_(text), file_(std::move(file)) {}

  [[noreturn]] void fail(const std::string& what) const {
    throw PanelError(file_ + ":" + std::to_string(line_number_) + ": " + what);
  }

  /// Next line that is no comment.
  std::string line() {
    std::string text;
    while (std::getline(in_, text)) {
      ++line_number_;
      if (text.empty() || text.front() != '#') return text;
    }
    fail("ends early; expected a complete kernel file");
  }

  std::vector<double> list(const std::string& name) {
    constexpr std::size_t kMostNumbers = 100000;
    const std::string text = line();
    const char* at = text.data();
    const char* const end = text.data() + text.size();
    const auto space = text.find(' ');
    if (text.substr(0, space) != name) fail("expected " + name);
    at += name.size();
    const auto number = [&](auto& value) {
      while (at < end && *at == ' ') ++at;
      const auto result = std::from_chars(at, end, value);
      if (result.ec != std::errc()) fail("expected a list of numbers after " + name);
      at = result.ptr;
    };
    std::size_t count = 0;
    number(count);
    if (count == 0 || count > kMostNumbers) fail("expected a count of 1 to 100000 after " + name);
    std::vector<double> values(count);
    for (double& value : values) number(value);
    if (at != end) fail("more numbers than announced after " + name);
    return values;
  }

 private:
  std::istringstream in_;
  std::string file_;
  int line_number_ = 0;
};

}  // namespace

std::string format_kernels(const SurfaceKernels& kernels, const std::string& input,
                           const std::string& comment) {
  std::string out;
  std::istringstream lines(comment);
  for (std::string text; std::getline(lines, text);) out += "# " + text + "\n";
  out += std::string(kVersion) + "\ninput " + input + "\n";
  SurfaceKernels copy = kernels;
  visit(
      copy,
      [&](const char* name, const std::vector<double*>& values) {
        out += name + (" " + std::to_string(values.size()));
        for (const double* value : values) append(out, *value);
        out.push_back('\n');
      },
      [&](const char* name, const std::vector<double>& values) {
        out += name + (" " + std::to_string(values.size()));
        for (const double value : values) append(out, value);
        out.push_back('\n');
      });
  return out + "checksum " + hex(fnv1a(out)) + "\n";
}

SurfaceKernels parse_kernels(const std::string& text, const std::string& file,
                             const std::string& input) {
  const auto tail = text.rfind("checksum ");
  if (tail == std::string::npos || (tail > 0 && text[tail - 1] != '\n'))
    throw PanelError(file + ": has no checksum; expected a complete kernel file");
  if (text.substr(tail) != "checksum " + hex(fnv1a(std::string_view(text).substr(0, tail))) + "\n")
    throw PanelError(file + ": is damaged; its checksum does not match");
  Reader reader(text, file);
  if (reader.line() != kVersion) reader.fail(std::string("expected ") + kVersion);
  const std::string made_from = reader.line();
  if (!input.empty() && made_from != "input " + input) reader.fail("made from another panel");

  SurfaceKernels out;
  visit(
      out,
      [&](const char* name, const std::vector<double*>& values) {
        const std::vector<double> read = reader.list(name);
        if (read.size() != values.size())
          reader.fail("expected " + std::to_string(values.size()) + " numbers after " + name);
        for (std::size_t i = 0; i < read.size(); ++i) *values[i] = read[i];
      },
      [&](const char* name, std::vector<double>& values) { values = reader.list(name); });
  for (Separable* s :
       {&out.q_row, &out.q_column, &out.phi_row, &out.phi_column, &out.loss[0], &out.loss[1]}) {
    s->x.step_mm = out.q_row.x.step_mm;
    s->y.step_mm = out.q_row.y.step_mm;
  }
  return out;
}

}  // namespace bareglass::field
