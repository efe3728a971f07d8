#include <png.h>

#include <stdexcept>

#include "bareglass/capture/output_file.hpp"
#include "bareglass/view/shell.hpp"

namespace bareglass::view {

void write_png(const std::string& path, const Picture& picture) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(picture.width);
  image.height = static_cast<png_uint_32>(picture.height);
  image.format = PNG_FORMAT_RGB;
  png_alloc_size_t size = 0;
  if (png_image_write_to_memory(&image, nullptr, &size, 0, picture.rgb.data(), 0, nullptr) == 0)
    throw std::runtime_error(std::string("PNG: ") + image.message);
  std::string bytes(size, '\0');
  if (png_image_write_to_memory(&image, bytes.data(), &size, 0, picture.rgb.data(), 0, nullptr) ==
      0)
    throw std::runtime_error(std::string("PNG: ") + image.message);
  bytes.resize(size);
  host::OutputFile file(path);
  file.write(bytes);
  file.finish();
}

}  // namespace bareglass::view
