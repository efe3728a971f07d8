#include <filesystem>
#include <fstream>
#include <sstream>

#include "bareglass/field/kernel_store.hpp"
#include "bareglass/panel_model/glass_model.hpp"

namespace bareglass::panel {

field::SurfaceKernels kernels_of(const field::PanelSpec& spec, const std::string& panel_path) {
  if (!panel_path.empty()) {
    const std::string beside =
        std::filesystem::path(panel_path).replace_extension(".kernels").string();
    std::ifstream in(beside, std::ios::binary);
    std::ostringstream text;
    if (in && text << in.rdbuf()) {
      try {
        return field::parse_kernels(text.str(), beside, field::kernel_input(spec, field::Mesh{}));
      } catch (const field::PanelError&) {
        // Made from another panel or damaged: what is solved anew is right in either case.
      }
    }
  }
  field::KernelSource source;
  field::SurfaceKernels kernels = field::cached_kernels(spec, field::Mesh{}, source);
  if (kernels.allowances.line_mm == 0.0) kernels.allowances = field::fit_allowances(kernels);
  return kernels;
}

}  // namespace bareglass::panel
