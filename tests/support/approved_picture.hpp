#pragma once
// Pictures of the window that a person has looked at and approved, kept at half their size.
// BAREGLASS_APPROVE=1 in the environment writes the present ones in their place.

#include <gtest/gtest.h>
#include <png.h>

#include <cstdlib>
#include <filesystem>
#include <string>

#include "bareglass/view/shell.hpp"
#include "window_events.hpp"

namespace bareglass::support {

/// Empty if there is no readable PNG.
inline view::Picture read_png(const std::string& path) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  view::Picture out;
  if (png_image_begin_read_from_file(&image, path.c_str()) == 0) return out;
  image.format = PNG_FORMAT_RGB;
  out.width = static_cast<int>(image.width);
  out.height = static_cast<int>(image.height);
  out.rgb.resize(PNG_IMAGE_SIZE(image));
  if (png_image_finish_read(&image, nullptr, out.rgb.data(), 0, nullptr) == 0) return {};
  return out;
}

/// Means of 2 x 2 pixels: letters that another version of the font sets a little differently come
/// out nearly the same.
inline view::Picture halved(const view::Picture& p) {
  view::Picture out;
  out.width = p.width / 2;
  out.height = p.height / 2;
  const auto at = [&](int x, int y, int channel) {
    return int{p.rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(p.width) +
                          static_cast<std::size_t>(x)) +
                     static_cast<std::size_t>(channel)]};
  };
  for (int y = 0; y < out.height; ++y)
    for (int x = 0; x < out.width; ++x)
      for (int c = 0; c < 3; ++c) {
        const int sum = at(2 * x, 2 * y, c) + at(2 * x + 1, 2 * y, c) + at(2 * x, 2 * y + 1, c) +
                        at(2 * x + 1, 2 * y + 1, c);
        out.rgb.push_back(static_cast<std::uint8_t>((sum + 2) / 4));
      }
  return out;
}

/// Share of pixels that may differ: less than a line of words.
constexpr double kPictureTolerance = 0.0015;

/// `name`: below fixtures/expected/pictures, without its ending. What is there now is kept in the
/// build folder under view_pictures/approved.
inline void expect_approved_picture(const std::string& name, const view::Picture& picture) {
  const view::Picture now = halved(picture);
  const auto kept = std::filesystem::path(BAREGLASS_BINARY_DIR) / "view_pictures" / "approved";
  std::filesystem::create_directories(kept);
  view::write_png((kept / (name + ".png")).string(), now);
  const std::string path =
      std::string(BAREGLASS_SOURCE_DIR "/fixtures/expected/pictures/") + name + ".png";
  if (std::getenv("BAREGLASS_APPROVE") != nullptr) view::write_png(path, now);
  const view::Picture approved = read_png(path);
  ASSERT_GT(approved.width, 0) << path << " is missing or damaged";
  EXPECT_LT(test_support::share_differing(now, approved), kPictureTolerance)
      << "look at " << (kept / (name + ".png")).string() << " beside " << path
      << "; if the new one is right: BAREGLASS_APPROVE=1 ctest --test-dir build -R ApprovedPicture";
}

}  // namespace bareglass::support
