#include "table/folder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstring>
#include <filesystem>
#include <map>
#include <optional>

#include "bareglass/capture/error.hpp"
#include "table/utf16.hpp"

namespace bareglass::host {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t kMostFiles = 1'000'000;
constexpr std::uintmax_t kMostFileBytes = std::uintmax_t{64} << 20;

bool table_ending(const std::string& ending) {
  for (const char* known : {".csv", ".tsv", ".txt", ".dat", ".asc", ".prn"})
    if (ending == known) return true;
  return false;
}

bool folder_digit(char c) { return c >= '0' && c <= '9'; }

/// Names compared with their numbers as numbers: frame_9 before frame_10.
bool before(const std::string& x, const std::string& y) {
  std::size_t i = 0, k = 0;
  while (i < x.size() && k < y.size()) {
    if (folder_digit(x[i]) && folder_digit(y[k])) {
      while (i + 1 < x.size() && x[i] == '0' && folder_digit(x[i + 1])) ++i;
      while (k + 1 < y.size() && y[k] == '0' && folder_digit(y[k + 1])) ++k;
      std::size_t m = i, n = k;
      while (m < x.size() && folder_digit(x[m])) ++m;
      while (n < y.size() && folder_digit(y[n])) ++n;
      if (m - i != n - k) return m - i < n - k;
      const int order = x.compare(i, m - i, y, k, n - k);
      if (order != 0) return order < 0;
      i = m;
      k = n;
      continue;
    }
    if (x[i] != y[k]) return x[i] < y[k];
    ++i;
    ++k;
  }
  return x.size() - i < y.size() - k || (x.size() - i == y.size() - k && x < y);
}

/// The last number in a name.
std::optional<std::uint32_t> number_in_name(const std::string& name) {
  std::size_t end = name.size();
  while (end > 0 && !folder_digit(name[end - 1])) --end;
  std::size_t begin = end;
  while (begin > 0 && folder_digit(name[begin - 1])) --begin;
  if (begin == end || end - begin > 9) return std::nullopt;
  return static_cast<std::uint32_t>(std::stoul(name.substr(begin, end - begin)));
}

/// Numbers of the files, if they grow, most of them by one: then they count frames.
std::vector<std::uint32_t> frame_numbers(const std::vector<fs::path>& files) {
  std::vector<std::uint32_t> numbers;
  std::size_t by_one = 0;
  for (const fs::path& file : files) {
    const auto number = number_in_name(file.stem().string());
    if (!number || (!numbers.empty() && *number <= numbers.back())) return {};
    if (!numbers.empty() && *number == numbers.back() + 1) ++by_one;
    numbers.push_back(*number);
  }
  return 2 * by_one >= numbers.size() - 1 ? numbers : std::vector<std::uint32_t>();
}

std::string text_of_file(const fs::path& path) {
  std::error_code error;
  if (fs::file_size(path, error) > kMostFileBytes || error)
    throw CaptureError(path.string(), "", "expected a file of at most 64 MiB that holds one frame");
  auto buffer = std::make_shared<InputBuffer>(open_source(path.string()));
  buffer->fill_to(64);
  std::string text;
  if (const auto order = utf16_order(buffer->data(), buffer->size())) {
    Utf16Source source(buffer, *order);
    std::uint8_t piece[4096];
    for (std::size_t got = 0; (got = source.read(piece, sizeof piece)) > 0;)
      text.append(reinterpret_cast<const char*>(piece), got);
  } else {
    while (buffer->fill()) {
    }
    text.assign(reinterpret_cast<const char*>(buffer->data()), buffer->size());
  }
  if (text.compare(0, 3, "\xEF\xBB\xBF") == 0) text.erase(0, 3);
  if (text.empty() || text.back() != '\n') text += '\n';
  return text;
}

class FolderSource final : public ByteSource {
 public:
  FolderSource(std::vector<fs::path> files, std::vector<std::uint32_t> numbers,
               std::shared_ptr<FolderPlaces> places)
      : files_(std::move(files)), numbers_(std::move(numbers)), places_(std::move(places)) {}

  std::size_t read(std::uint8_t* to, std::size_t most) override {
    while (at_ == text_.size()) {
      if (next_ == files_.size()) return 0;
      take(next_++);
    }
    const std::size_t size = std::min(most, text_.size() - at_);
    std::memcpy(to, text_.data() + at_, size);
    at_ += size;
    return size;
  }

 private:
  void take(std::size_t n) {
    const std::string name = files_[n].filename().string();
    const std::string heading =
        numbers_.empty() ? "# file\n" : fmt::format("# frame {}\n", numbers_[n]);
    places_->starts.push_back({++lines_, files_[n].string()});
    text_ = heading + text_of_file(files_[n]);
    lines_ += static_cast<std::uint64_t>(std::count(text_.begin(), text_.end(), '\n')) - 1;
    at_ = 0;
  }

  std::vector<fs::path> files_;
  std::vector<std::uint32_t> numbers_;
  std::shared_ptr<FolderPlaces> places_;
  std::size_t next_ = 0;
  std::string text_;
  std::size_t at_ = 0;
  std::uint64_t lines_ = 0;
};

/// Files of the ending that most of them have.
std::vector<fs::path> table_files(const std::string& path, std::size_t& left_out) {
  std::map<std::string, std::vector<fs::path>> by_ending;
  std::error_code error;
  std::size_t all = 0;
  for (const fs::directory_entry& entry : fs::directory_iterator(path, error)) {
    const std::string name = entry.path().filename().string();
    if (name.front() == '.' || !entry.is_regular_file(error)) continue;
    if (++all > kMostFiles)
      throw CaptureError(path, "", "expected a folder of at most 1,000,000 files, a frame each");
    if (table_ending(entry.path().extension().string()))
      by_ending[entry.path().extension().string()].push_back(entry.path());
  }
  std::vector<fs::path> files;
  for (auto& [ending, found] : by_ending)
    if (found.size() > files.size()) files = std::move(found);
  left_out = all - files.size();
  std::sort(files.begin(), files.end(), [](const fs::path& x, const fs::path& y) {
    return before(x.filename().string(), y.filename().string());
  });
  return files;
}

}  // namespace

std::pair<std::string, std::uint64_t> FolderPlaces::of(std::uint64_t line) const {
  const Start* found = &starts.front();
  for (const Start& start : starts)
    if (start.line <= line) found = &start;
  return {found->path, line > found->line ? line - found->line : 1};
}

FolderText open_folder(const std::string& path) {
  std::size_t left_out = 0;
  std::vector<fs::path> files = table_files(path, left_out);
  if (files.empty())
    throw CaptureError(path, "",
                       "is a directory, expected a file to read; a folder is read only if it holds "
                       "a .csv or .txt file for each frame");
  std::vector<std::uint32_t> numbers = frame_numbers(files);
  FolderText out;
  out.places = std::make_shared<FolderPlaces>();
  out.said.push_back(
      fmt::format("a folder of {} files, a frame each, in the order of their "
                  "names{}",
                  files.size(), numbers.empty() ? "" : ", which count the frames"));
  if (left_out > 0) out.said.push_back(fmt::format("{} other files left out", left_out));
  out.source = std::make_unique<FolderSource>(std::move(files), std::move(numbers), out.places);
  return out;
}

}  // namespace bareglass::host
