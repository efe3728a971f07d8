#pragma once
// --picture FILE of the commands that draw.

#include <boost/program_options.hpp>
#include <string>
#include <vector>

#include "bareglass/present/heat_map.hpp"

namespace bareglass::tools {

/// The value of --picture, or of another `option` that draws, empty if it is not given. Throws
/// CommandLineError unless it ends in .svg or .png: before a dump is read, so that a long replay is
/// not thrown away over a wrong ending.
std::string picture_path(const boost::program_options::variables_map& given,
                         const char* option = "picture");

/// Writes an SVG or a PNG by the ending of `path`. Throws CaptureWriteError.
void write_picture(const std::string& path, const host::HeatMap& map);
/// Several side by side.
void write_pictures(const std::string& path, const std::vector<host::HeatMap>& maps);

}  // namespace bareglass::tools
