#include "field_command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <sstream>

#include "bareglass/field/kernel_drawing.hpp"
#include "bareglass/field/kernel_store.hpp"
#include "bareglass/field/surface_model.hpp"
#include "bareglass/panel/reference_table.hpp"
#include "bareglass/plain/harmless.hpp"
#include "cli.hpp"
#include "files_apart.hpp"

namespace bareglass::tools {

namespace po = boost::program_options;

namespace {

po::options_description own_field_options() {
  po::options_description o("What to tell");
  o.add_options()("draw", po::value<std::string>()->value_name("FILE"),
                  "draw the surface kernels; FILE ends in .svg")(
      "kernels", po::value<std::string>()->value_name("FILE"),
      "write the surface kernels to FILE, freshly solved")(
      "no-cache", po::bool_switch(), "solve even if the cache knows this panel")(
      "table", po::bool_switch(),
      "instead: this program's numbers of its reference panel beside those of an independent field "
      "solution; no PANEL; takes some minutes")("reference",
                                                po::value<std::string>()->value_name("FILE"),
                                                "for --table: other reference numbers");
  return o;
}

std::string field_help(const po::options_description& options) {
  std::ostringstream out;
  out << "usage: bareglass field PANEL [options]\n"
         "       bareglass field --table [--reference FILE]\n\n"
         "Solves the electrostatics of a panel and prints its capacitances and what objects on "
         "the\n"
         "glass do to them. PANEL is a panel file (TOML); fixtures/panels holds examples.\n\n"
      << options;
  return out.str();
}

/// A number of the bare panel and how far it moves on a mesh half as fine.
std::string line(const char* what, double value, double coarser, const char* unit = "fF") {
  return fmt::format("  {:<34}{:>10.2f} {:<7} +- {:.2f}\n", what, value, unit,
                     std::max(std::abs(value - coarser), 0.005));
}

std::string numbers_text(const field::SurfaceKernels& kernels, const field::PanelNumbers& coarser) {
  const field::PanelNumbers& n = kernels.numbers;
  std::string out = "Capacitances (fF; +-: change from a mesh half as fine)\n";
  out += line("node, row to column", n.node, coarser.node);
  out += line("full grounded cover takes away", n.full_loss, coarser.full_loss);
  out += line("row to next row, per crossing", n.row_to_row, coarser.row_to_row);
  out += line("column to next, per crossing", n.column_to_column, coarser.column_to_column);
  out += line("row to all, per crossing", n.row_self, coarser.row_self);
  out += line("column to all, per crossing", n.column_self, coarser.column_self);
  out += line("cover to all", n.cover_per_mm2, coarser.cover_per_mm2, "fF/mm2");
  return out;
}

/// Changes of a node under discs, by the fast model.
std::string discs_text(const field::SurfaceKernels& kernels) {
  const field::SurfaceModel model(kernels);
  std::string out =
      "\nDiscs on a node, change of that node by the fast model, fF (C_b: object to ground)\n"
      "  diameter      C_TF      C_FR      C_FF  grounded    100 pF      3 pF  isolated\n";
  constexpr int kMiddle = 10;
  for (const double diameter : {6.0, 8.0, 10.0, 12.0}) {
    const field::Point node{kMiddle * kernels.column_pitch_mm, kMiddle * kernels.row_pitch_mm};
    const field::Coupling c =
        model.couple(field::Footprint::disc(node, diameter), {2 * kMiddle + 1, 2 * kMiddle + 1});
    out +=
        fmt::format("  {:>5} mm {:>10.1f}{:>10.1f}{:>10.1f}", diameter,
                    c.to_row(kMiddle - c.first_row), c.to_column(kMiddle - c.first_column), c.self);
    for (const double to_ground : {static_cast<double>(INFINITY), 100e3, 3e3, 0.0})
      out += fmt::format("{:>10.1f}", c.change(kMiddle, kMiddle, to_ground));
    out += "\n";
  }
  return out;
}

std::string drawing_path(const po::variables_map& given) {
  if (!given.count("draw")) return {};
  const std::string path = given["draw"].as<std::string>();
  if (path.size() < 4 || path.compare(path.size() - 4, 4, ".svg") != 0)
    throw CommandLineError(fmt::format("--draw expects a file that ends in .svg, not '{}'", path));
  return path;
}

/// Solves the reference table group by group, printing each as it is ready.
int tell_table(const po::variables_map& given) {
  if (given.count("PANEL"))
    throw CommandLineError("--table is about the built-in reference panel; leave PANEL out");
  panel::ReferenceTable table = given.count("reference")
                                    ? panel::load_reference(given["reference"].as<std::string>())
                                    : panel::built_in_reference();
  print(panel::table_heading(table));
  int inside = 0;
  int all = 0;
  for (panel::ReferenceGroup& group : table.groups) {
    panel::solve(group);
    print(panel::group_text(group));
    for (const panel::ReferenceRow& row : group.rows) {
      ++all;
      inside += row.within() ? 1 : 0;
    }
  }
  print(fmt::format("\n{} of {} rows within the bound.\n", inside, all));
  return kDone;
}

int tell(const po::variables_map& given, const std::string& path, const std::string& drawing) {
  const field::PanelSpec panel = field::load_panel(path);
  const field::Mesh mesh;
  const bool fresh = given["no-cache"].as<bool>() || given.count("kernels") > 0;
  field::KernelSource source;
  const field::SurfaceKernels kernels =
      fresh ? field::solve_kernels(panel, mesh) : field::cached_kernels(panel, mesh, source);
  if (!source.warning.empty()) warn(source.warning);
  const field::PanelNumbers coarser = field::solve_numbers(panel, mesh.finer(0.5));
  print(fmt::format("{}\n\n", panel.name) + numbers_text(kernels, coarser) + discs_text(kernels));
  if (!drawing.empty()) {
    write_file(drawing, field::draw_kernels(kernels, panel));
    print(fmt::format("\nKernels drawn: {}\n", plain::harmless(drawing)));
  }
  if (given.count("kernels")) {
    const std::string out = given["kernels"].as<std::string>();
    const std::string how = fmt::format(
        "Surface kernels of {}. Regenerate: bareglass field {} "
        "--kernels {}",
        panel.name, path, out);
    write_file(out, field::format_kernels(kernels, field::kernel_input(panel, mesh), how));
    print(fmt::format("\nKernels written: {}\n", plain::harmless(out)));
  }
  return kDone;
}

}  // namespace

int run_field(int argc, const char* const* argv) {
  const po::options_description options = own_field_options();
  const po::variables_map given = parse(argc, argv, options, {"PANEL"});
  if (given.count("help")) {
    print(field_help(options));
    return kDone;
  }
  expect_no_standard_output(files_of(given, {"kernels"}));
  expect_apart(files_of(given, {"PANEL", "reference"}), files_of(given, {"draw", "kernels"}));
  try {
    if (given["table"].as<bool>()) return tell_table(given);
  } catch (const std::invalid_argument& error) {
    warn(fmt::format("{}: {}", given["reference"].as<std::string>(), error.what()));
    return kUnreadableInput;
  }
  if (given.count("reference")) throw CommandLineError("--reference goes with --table");
  const std::string path = required(given, "PANEL");
  const std::string drawing = drawing_path(given);
  try {
    return tell(given, path, drawing);
  } catch (const field::PanelError& error) {
    warn(error.what());
    return kUnreadableInput;
  }
}

}  // namespace bareglass::tools
