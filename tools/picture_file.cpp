#include "picture_file.hpp"

#include <fmt/format.h>

#include "cli.hpp"

namespace bareglass::tools {

namespace {

bool ends_in(const std::string& text, const std::string& end) {
  return text.size() >= end.size() && text.compare(text.size() - end.size(), end.size(), end) == 0;
}

}  // namespace

std::string picture_path(const boost::program_options::variables_map& given, const char* option) {
  if (!given.count(option)) return {};
  const std::string path = given[option].as<std::string>();
  if (!ends_in(path, ".svg") && !ends_in(path, ".png"))
    throw CommandLineError(
        fmt::format("--{} expects a file that ends in .svg or .png, not '{}'", option, path));
  return path;
}

void write_picture(const std::string& path, const host::HeatMap& map) {
  write_file(path, ends_in(path, ".svg") ? host::heat_map_svg(map) : host::heat_map_png(map));
}

void write_pictures(const std::string& path, const std::vector<host::HeatMap>& maps) {
  write_file(path, ends_in(path, ".svg") ? host::heat_maps_svg(maps) : host::heat_maps_png(maps));
}

}  // namespace bareglass::tools
