# cmake -DSOURCES=FILE;FILE... -DOUT=HEADER -P solver_sources.cmake
# Writes a header with a hash of these sources. What no compiler sees, comments and the space between
# lines, does not count.
set(all "")
foreach(source IN LISTS SOURCES)
  file(READ ${source} text)
  string(REGEX REPLACE "//[^\n]*" "" text "${text}")
  string(REGEX REPLACE "[ \n]+" " " text "${text}")
  get_filename_component(name ${source} NAME)
  string(APPEND all "${name}:${text}\n")
endforeach()
string(SHA256 hash "${all}")
set(header "#pragma once
// Hash of the sources that full field solutions come from.

namespace bareglass::support {

inline constexpr char kSolverSources[] = \"${hash}\";

}  // namespace bareglass::support
")
if(EXISTS ${OUT})
  file(READ ${OUT} old)
endif()
if(NOT old STREQUAL header)
  file(WRITE ${OUT} "${header}")
endif()
