#pragma once
// No command writes over a file that it reads, nor two outputs into one file.

#include <boost/program_options.hpp>
#include <string>
#include <vector>

namespace bareglass::tools {

/// A file of the command line: the word that names it there, such as DUMP or --report, and its
/// path.
struct NamedFile {
  std::string word;
  std::string path;
};

/// The files that `names` (positional words in capitals, options without their dashes) have on the
/// command line, also several each; those that are not given are left out.
std::vector<NamedFile> files_of(const boost::program_options::variables_map& given,
                                const std::vector<std::string>& names);

/// Throws CommandLineError if an output is an input or another output: the same file by whatever
/// path or link, or the same place where no file is yet. Devices and pipes hold nothing to lose and
/// may stand twice. "-" is standard input or output. Call it before anything is read or written.
void expect_apart(const std::vector<NamedFile>& inputs, const std::vector<NamedFile>& outputs);

/// Throws CommandLineError if one of `files` is "-": standard output is taken by the answer.
void expect_no_standard_output(const std::vector<NamedFile>& files);

/// Throws CommandLineError if two of these dumps are one file, by whatever path or link.
void expect_each_once(const std::vector<NamedFile>& dumps);

}  // namespace bareglass::tools
