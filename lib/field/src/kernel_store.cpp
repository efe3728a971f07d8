#include "bareglass/field/kernel_store.hpp"

#include <unistd.h>

#include <array>
#include <charconv>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <sstream>

namespace bareglass::field {

namespace {

namespace fs = std::filesystem;

/// The whole of a file, or nothing if it cannot be read.
bool read_whole(const std::string& path, std::string& text) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream out;
  if (!in || !(out << in.rdbuf())) return false;
  text = out.str();
  return true;
}

/// A short file name for an input; a clash costs a second solution, as the file holds its input.
std::string cache_name(const std::string& input) {
  std::ostringstream name;
  name << "kernels-" << std::hex << std::hash<std::string>{}(input) << ".txt";
  return name.str();
}

/// The fewest digits that read back as the same number.
std::string shortest(double value) {
  std::array<char, 32> digits{};
  return {digits.data(), std::to_chars(digits.data(), digits.data() + digits.size(), value).ptr};
}

}  // namespace

void write_whole(const std::string& path, const std::string& text) {
  const std::string temporary = path + "." + std::to_string(::getpid()) + ".part";
  {
    std::ofstream out(temporary, std::ios::binary | std::ios::trunc);
    out << text;
    out.close();
    if (!out) {
      std::error_code ignored;
      fs::remove(temporary, ignored);
      throw PanelError(path + ": cannot be written");
    }
  }
  std::error_code error;
  fs::rename(temporary, path, error);
  if (error) {
    std::error_code ignored;
    fs::remove(temporary, ignored);
    throw PanelError(path + ": cannot be written: " + error.message());
  }
}

std::string cache_directory() {
  const auto variable = [](const char* name) {
    const char* value = std::getenv(name);
    return std::string(value != nullptr ? value : "");
  };
  // The XDG base directory specification ignores relative paths.
  const std::string base = variable("XDG_CACHE_HOME");
  if (!base.empty() && base.front() == '/') return base + "/bareglass";
  const std::string home = variable("HOME");
  return home.empty() ? "" : home + "/.cache/bareglass";
}

SurfaceKernels load_kernels(const std::string& path) {
  std::string text;
  if (!read_whole(path, text)) throw PanelError(path + ": cannot be read; expected a kernel file");
  return parse_kernels(text, path);
}

std::string kernel_input(const PanelSpec& panel, const Mesh& mesh) {
  std::string out = panel.diamonds ? "diamonds; layers" : "bars and stripes; layers";
  for (const Layer& layer : panel.layers)
    out += ' ' + shortest(layer.thickness_mm) + '/' + shortest(layer.permittivity);
  if (panel.diamonds) {
    const Diamonds& d = *panel.diamonds;
    out += "; pitch " + shortest(d.pitch_mm) + " gap " + shortest(d.gap_mm) + " neck " +
           shortest(d.neck_mm) + " bridge " + shortest(d.bridge_ff()) + " under " +
           std::to_string(d.under);
  }
  for (const Lines* lines : {&panel.rows, &panel.columns})
    out += (lines == &panel.rows ? "; rows " : "; columns ") + shortest(lines->pitch_mm) + ' ' +
           shortest(lines->width_mm) + " under " + std::to_string(lines->under);
  if (panel.surroundings_mm > 0.0) out += "; surroundings " + shortest(panel.surroundings_mm);
  out += "; mesh";
  for (const double value : {mesh.edge_mm, mesh.bulk_mm, mesh.growth, mesh.air_mm, mesh.object_mm})
    out += ' ' + shortest(value);
  return out;
}

SurfaceKernels cached_kernels(const PanelSpec& panel, const Mesh& mesh, KernelSource& source,
                              const std::string& directory) {
  const std::string input = kernel_input(panel, mesh);
  source = {};
  if (!directory.empty()) source.path = directory + "/" + cache_name(input);
  std::string text;
  if (!source.path.empty() && read_whole(source.path, text)) {
    try {
      SurfaceKernels kernels = parse_kernels(text, source.path, input);
      source.origin = KernelSource::Origin::kCached;
      return kernels;
    } catch (const PanelError& error) {
      source.warning = std::string(error.what()) + "; solved anew";
    }
  }
  SurfaceKernels kernels = solve_kernels(panel, mesh);
  if (source.path.empty()) {
    source.warning = "no cache directory: neither XDG_CACHE_HOME nor HOME is set";
    return kernels;
  }
  try {
    std::error_code error;
    fs::create_directories(directory, error);
    if (error) throw PanelError(directory + ": cannot be made: " + error.message());
    write_whole(source.path, format_kernels(kernels, input, "Surface kernels of " + panel.name));
  } catch (const PanelError& error) {
    source.warning += (source.warning.empty() ? "" : "; ") + std::string(error.what());
  }
  return kernels;
}

}  // namespace bareglass::field
