#include "bareglass/capture/formats.hpp"

#include <array>

namespace bareglass::host {

namespace {

struct FormatRow {
  CaptureFormat format;
  std::string_view name;
  std::string_view explanation;
};

constexpr std::array<FormatRow, 8> kFormats = {{
    {CaptureFormat::frames, "frames", "panel frame stream, as a controller sends it"},
    {CaptureFormat::csv, "csv", "text: '# key: value' lines, then t_us,v0,v1,..."},
    {CaptureFormat::npy, "npy", "NumPy array, frames x rows x columns"},
    {CaptureFormat::td16, "td16", "V4L2 touch, 16-bit differences"},
    {CaptureFormat::td08, "td08", "V4L2 touch, 8-bit differences"},
    {CaptureFormat::tu16, "tu16", "V4L2 touch, 16-bit raw counts"},
    {CaptureFormat::tu08, "tu08", "V4L2 touch, 8-bit raw counts"},
    {CaptureFormat::table, "table", "text of numbers, as loggers and spreadsheets write it"},
}};

const FormatRow& row_of(CaptureFormat format) { return kFormats[static_cast<std::size_t>(format)]; }

}  // namespace

std::string_view format_name(CaptureFormat format) { return row_of(format).name; }

std::string_view format_explanation(CaptureFormat format) { return row_of(format).explanation; }

std::optional<CaptureFormat> format_of_name(std::string_view name) {
  for (const FormatRow& row : kFormats)
    if (row.name == name) return row.format;
  return std::nullopt;
}

std::string written_format_names() {
  std::string names;
  for (const FormatRow& row : kFormats)
    if (row.format != CaptureFormat::table)
      names.append(names.empty() ? "" : ", ").append(row.name);
  return names;
}

std::string format_names() { return written_format_names() + ", table"; }

}  // namespace bareglass::host
