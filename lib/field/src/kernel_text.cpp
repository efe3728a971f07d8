// The kernel file format. Line by line:
//   bareglass-kernels 2        the version
//   input TEXT                 what the kernels were made from (see kernel_input)
//   NAME N v1 .. vN            a list of N numbers, in the fixed order of visit(); `terms NAME`
//   says
//                              of how many products a kernel is the sum
//   checksum HEX               FNV-1a, 64 bits, of all bytes before this line
// For example `pitch 2 5 5`.

#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <sstream>
#include <string_view>

#include "bareglass/field/kernel_store.hpp"

namespace bareglass::field {

namespace {

constexpr const char* kVersion = "bareglass-kernels 2";

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

/// What is done with each quantity of a kernel file.
class Visitor {
 public:
  virtual ~Visitor() = default;
  virtual void numbers(const std::string& name, const std::vector<double*>& values) = 0;
  virtual void list(const std::string& name, std::vector<double>& values) = 0;
  /// The number of a kernel's terms.
  virtual void terms(const std::string& name, Kernel& kernel) = 0;
};

void visit(Visitor& visitor, const std::string& name, Kernel& kernel) {
  visitor.terms(name + ".terms", kernel);
  visitor.numbers(name + ".residuals", {&kernel.one_term_residual, &kernel.residual});
  for (std::size_t t = 0; t < kernel.terms.size(); ++t) {
    const std::string term = name + std::to_string(t + 1);
    visitor.list(term + ".x", kernel.terms[t].x.bins);
    visitor.list(term + ".y", kernel.terms[t].y.bins);
  }
}

/// `steps` holds the bin widths of all profiles in x and in y.
void visit(Visitor& visitor, SurfaceKernels& k, std::array<double, 2>& steps) {
  visitor.numbers("pitch", {&k.column_pitch_mm, &k.row_pitch_mm});
  PanelNumbers& n = k.numbers;
  visitor.numbers("numbers",
                  {&n.node, &n.full_loss, &n.loss_by_row, &n.loss_by_column, &n.row_to_row,
                   &n.column_to_column, &n.row_self, &n.column_self, &n.cover_per_mm2});
  visitor.numbers("cover_permittivity", {&k.cover_permittivity});
  visitor.numbers("surroundings_mm", {&k.surroundings_mm});
  Allowances& a = k.allowances;
  visitor.numbers("allowances", {&a.line_mm, &a.self_mm, &a.loss_mm, &a.loss_power});
  visitor.numbers("steps", {&steps[0], &steps[1]});
  visit(visitor, "q_row", k.q_row);
  visit(visitor, "q_column", k.q_column);
  visit(visitor, "phi_row", k.phi_row);
  visit(visitor, "phi_column", k.phi_column);
  visit(visitor, "loss", k.loss);
}

std::array<Kernel*, 5> all_of(SurfaceKernels& k) {
  return {&k.q_row, &k.q_column, &k.phi_row, &k.phi_column, &k.loss};
}

void append(std::string& out, double value) {
  std::array<char, 32> digits{};
  const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), value).ptr;
  out.push_back(' ');
  out.append(digits.data(), end);
}

/// Writes the quantities, one line each.
class Writer : public Visitor {
 public:
  explicit Writer(std::string& out) : out_(out) {}

  void numbers(const std::string& name, const std::vector<double*>& values) override {
    out_ += name + " " + std::to_string(values.size());
    for (const double* value : values) append(out_, *value);
    out_.push_back('\n');
  }
  void list(const std::string& name, std::vector<double>& values) override {
    std::vector<double*> all;
    for (double& value : values) all.push_back(&value);
    numbers(name, all);
  }
  void terms(const std::string& name, Kernel& kernel) override {
    auto count = static_cast<double>(kernel.terms.size());
    numbers(name, {&count});
  }

 private:
  std::string& out_;
};

/// Reads the quantities of a text whose checksum has been found good.
class Reader : public Visitor {
 public:
  Reader(const std::string& text, std::string file) : in_(text), file_(std::move(file)) {}

  void numbers(const std::string& name, const std::vector<double*>& values) override {
    const std::vector<double> read = read_list(name);
    if (read.size() != values.size())
      fail("expected " + std::to_string(values.size()) + " numbers after " + name);
    for (std::size_t i = 0; i < read.size(); ++i) *values[i] = read[i];
  }
  void list(const std::string& name, std::vector<double>& values) override {
    values = read_list(name);
  }
  void terms(const std::string& name, Kernel& kernel) override {
    double count = 0.0;
    numbers(name, {&count});
    if (!(count >= 1.0 && count <= static_cast<double>(Kernel::kMostTerms)) ||
        count != std::floor(count))
      fail("expected 1 to " + std::to_string(Kernel::kMostTerms) + " after " + name);
    kernel.terms.resize(static_cast<std::size_t>(count));
  }

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

  std::vector<double> read_list(const std::string& name) {
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
  std::array<double, 2> steps{copy.q_row.terms.at(0).x.step_mm, copy.q_row.terms.at(0).y.step_mm};
  Writer writer(out);
  visit(writer, copy, steps);
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
  std::array<double, 2> steps{};
  visit(reader, out, steps);
  for (Kernel* kernel : all_of(out)) {
    for (Separable& term : kernel->terms) {
      term.x.step_mm = steps[0];
      term.y.step_mm = steps[1];
    }
  }
  return out;
}

}  // namespace bareglass::field
