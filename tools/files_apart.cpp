#include "files_apart.hpp"

#include <fmt/format.h>

#include <cctype>
#include <filesystem>

#include "cli.hpp"

namespace bareglass::tools {

namespace fs = std::filesystem;

namespace {

/// The path that leads to a file's bytes; what standard input was redirected from has one too.
fs::path place_of(const NamedFile& file, bool read) {
  if (file.path != "-") return file.path;
  return read ? "/dev/stdin" : "/dev/stdout";
}

bool same_file(const fs::path& x, const fs::path& y) {
  std::error_code error;
  const fs::file_status about_x = fs::status(x, error);
  const fs::file_status about_y = fs::status(y, error);
  if (fs::exists(about_x) != fs::exists(about_y)) return false;
  if (fs::exists(about_x)) return fs::is_regular_file(about_x) && fs::equivalent(x, y, error);
  // A relative path that leads nowhere stays relative unless it is made absolute first.
  const fs::path whole_x = fs::weakly_canonical(fs::absolute(x, error), error);
  const fs::path whole_y = fs::weakly_canonical(fs::absolute(y, error), error);
  return !error && whole_x == whole_y;
}

std::string word_of(const std::string& name) {
  return std::isupper(static_cast<unsigned char>(name.front())) ? name : "--" + name;
}

}  // namespace

std::vector<NamedFile> files_of(const boost::program_options::variables_map& given,
                                const std::vector<std::string>& names) {
  std::vector<NamedFile> files;
  for (const std::string& name : names) {
    if (!given.count(name)) continue;
    const boost::any& value = given[name].value();
    if (const auto* several = boost::any_cast<std::vector<std::string>>(&value))
      for (const std::string& path : *several) files.push_back({word_of(name), path});
    else
      files.push_back({word_of(name), boost::any_cast<const std::string&>(value)});
  }
  return files;
}

void expect_apart(const std::vector<NamedFile>& inputs, const std::vector<NamedFile>& outputs) {
  for (auto out = outputs.begin(); out != outputs.end(); ++out) {
    for (const NamedFile& in : inputs)
      if (same_file(place_of(*out, false), place_of(in, true)))
        throw CommandLineError(
            fmt::format("{} expects a file of its own, but '{}' is read as {} '{}'", out->word,
                        out->path, in.word, in.path));
    for (auto other = outputs.begin(); other != out; ++other)
      if (same_file(place_of(*out, false), place_of(*other, false)))
        throw CommandLineError(
            fmt::format("{} expects a file of its own, but '{}' is written as {} '{}'", out->word,
                        out->path, other->word, other->path));
  }
}

void expect_no_standard_output(const std::vector<NamedFile>& files) {
  for (const NamedFile& file : files)
    if (file.path == "-")
      throw CommandLineError(fmt::format(
          "{} expects a file, not -, since standard output holds the answer", file.word));
}

void expect_each_once(const std::vector<NamedFile>& dumps) {
  for (auto dump = dumps.begin(); dump != dumps.end(); ++dump)
    for (auto other = dumps.begin(); other != dump; ++other)
      if (same_file(place_of(*dump, true), place_of(*other, true)))
        throw CommandLineError(
            fmt::format("{} expects a dump of its own, but '{}' is the same file as {} '{}'",
                        dump->word, dump->path, other->word, other->path));
}

}  // namespace bareglass::tools
