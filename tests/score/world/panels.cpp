#include "panels.hpp"

#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <memory>
#include <mutex>
#include <sstream>
#include <vector>

#include "bareglass/field/electrode_window.hpp"
#include "bareglass/field/kernel_store.hpp"
#include "bareglass/panel_model/glass_model.hpp"

namespace bareglass::world {

namespace {

struct Choice {
  double row_pitch_mm, column_pitch_mm, glass_mm;
  bool diamonds;
  const char* shipped;  ///< panel file, if there is one
};
constexpr Choice kChoices[] = {
    {5.0, 5.0, 0.7, false, "bars_and_stripes_0_7"},
    {5.0, 5.0, 1.1, false, "bars_and_stripes_1_1"},
    {5.0, 5.0, 2.0, false, "bars_and_stripes_2_0"},
    {5.0, 5.0, 3.0, false, "bars_and_stripes_3_0"},
    {5.0, 5.0, 1.1, true, "diamond_1_1"},
    {3.0, 3.0, 0.5, false, nullptr},
    {3.5, 3.4, 0.7, false, nullptr},
    {4.0, 4.0, 0.7, false, nullptr},
    {4.1, 4.0, 1.1, false, nullptr},
    {4.4, 4.5, 1.1, false, nullptr},
    {5.2, 5.0, 1.5, false, nullptr},
    {5.5, 5.6, 1.1, false, nullptr},
    {6.0, 6.0, 1.8, false, nullptr},
    {6.4, 6.5, 2.0, false, nullptr},
    {7.0, 7.0, 3.0, false, nullptr},
    {7.0, 6.8, 1.1, false, nullptr},
};
constexpr int kShipped = 5;
constexpr int kCount = static_cast<int>(std::size(kChoices));

/// Everything of one panel that is solved, each once for all threads.
struct Solved {
  std::once_flag kernels_once;
  field::SurfaceKernels kernels;
  std::mutex layers_lock;
  bool layers_read = false;
  std::map<std::pair<int, double>, double> layers;  ///< by octave of the thickness, permittivity
};

struct Store {
  std::string folder;
  std::string shipped_folder;
  std::vector<field::PanelSpec> specs;
  std::vector<std::unique_ptr<Solved>> solved;
};

Store& store() {
  static Store s;
  return s;
}

field::PanelSpec spec_of(const Choice& choice, const std::string& shipped_folder) {
  if (choice.shipped != nullptr)
    return field::load_panel(shipped_folder + "/" + choice.shipped + ".toml");
  field::PanelSpec spec = field::reference_panel(choice.glass_mm);
  spec.name = fmt::format("bars and stripes, {} x {} mm, {} mm cover glass", choice.row_pitch_mm,
                          choice.column_pitch_mm, choice.glass_mm);
  // Bars and stripes as wide a part of their pitch as those of the reference panel.
  spec.rows.pitch_mm = choice.row_pitch_mm;
  spec.rows.width_mm = 0.96 * choice.row_pitch_mm;
  spec.columns.pitch_mm = choice.column_pitch_mm;
  spec.columns.width_mm = 0.2 * choice.column_pitch_mm;
  return spec;
}

std::string layers_path(int panel) {
  return fmt::format("{}/layers_{}.txt", store().folder, panel);
}
std::string layers_head(int panel) { return field::kernel_input(panel_spec(panel), field::Mesh{}); }

// A file made from another panel or damaged is solved anew.
void read_layers(int panel, Solved& solved) {
  solved.layers_read = true;
  std::ifstream in(layers_path(panel));
  std::string head;
  if (!std::getline(in, head) || head != layers_head(panel)) return;
  int octave = 0;
  double permittivity = 0.0;
  double change = 0.0;
  while (in >> octave >> permittivity >> change) solved.layers[{octave, permittivity}] = change;
}

void keep_layers(int panel, const Solved& solved) {
  std::string text = layers_head(panel) + "\n";
  for (const auto& [key, change] : solved.layers)
    text += fmt::format("{} {} {:.17g}\n", key.first, key.second, change);
  field::write_whole(layers_path(panel), text);
}

double node_under(int panel, int octave, double permittivity) {
  field::Scene scene;
  scene.films = {{"layer", std::ldexp(1e-3, octave), permittivity}};
  return field::solve_node(panel_spec(panel), field::Mesh{}, scene);
}

double layer_at(int panel, int octave, double permittivity) {
  Solved& solved = *store().solved[static_cast<std::size_t>(panel)];
  const std::lock_guard<std::mutex> lock(solved.layers_lock);
  if (!solved.layers_read) read_layers(panel, solved);
  const auto found = solved.layers.find({octave, permittivity});
  if (found != solved.layers.end()) return found->second;
  // Both on one mesh, so that the small difference is free of meshing noise; permittivity 1 keeps
  // the node itself.
  const auto air = solved.layers.find({octave, 1.0});
  const double bare = air != solved.layers.end() ? air->second : node_under(panel, octave, 1.0);
  solved.layers[{octave, 1.0}] = bare;
  const double change = node_under(panel, octave, permittivity) - bare;
  solved.layers[{octave, permittivity}] = change;
  keep_layers(panel, solved);
  return change;
}

}  // namespace

int panel_count() { return kCount; }
int shipped_panel_count() { return kShipped; }

void keep_in(const std::string& folder, const std::string& shipped_folder) {
  std::filesystem::create_directories(folder);
  Store& s = store();
  s = {};
  s.folder = folder;
  s.shipped_folder = shipped_folder;
  for (const Choice& choice : kChoices) {
    s.specs.push_back(spec_of(choice, shipped_folder));
    s.solved.push_back(std::make_unique<Solved>());
  }
}

const field::PanelSpec& panel_spec(int panel) {
  return store().specs.at(static_cast<std::size_t>(panel));
}

const field::SurfaceKernels& panel_kernels(int panel) {
  Solved& solved = *store().solved.at(static_cast<std::size_t>(panel));
  std::call_once(solved.kernels_once, [&] {
    const Choice& choice = kChoices[panel];
    if (choice.shipped != nullptr) {
      solved.kernels = panel::kernels_of(panel_spec(panel),
                                         store().shipped_folder + "/" + choice.shipped + ".toml");
      return;
    }
    field::KernelSource source;
    solved.kernels =
        field::cached_kernels(panel_spec(panel), field::Mesh{}, source, store().folder);
  });
  return solved.kernels;
}

double layer_change(int panel, double thickness_um, double permittivity) {
  if (thickness_um <= 0.0) return 0.0;
  // Below the thinnest layer that is meshed the change is in proportion to the thickness.
  constexpr int kThinnest = 4;  // 16 um
  const int octave = static_cast<int>(std::floor(std::log2(thickness_um)));
  if (octave < kThinnest)
    return layer_at(panel, kThinnest, permittivity) * thickness_um / std::ldexp(1.0, kThinnest);
  const double part = thickness_um / std::ldexp(1.0, octave) - 1.0;
  const double low = layer_at(panel, octave, permittivity);
  return part == 0.0 ? low : low + part * (layer_at(panel, octave + 1, permittivity) - low);
}

}  // namespace bareglass::world
