#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "bareglass/field/kernel_store.hpp"

namespace bareglass::field {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;

std::string read(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

void overwrite(const fs::path& path, const std::string& text) {
  std::ofstream(path, std::ios::binary) << text;
}

/// Kernels with a recognisable number in every place.
SurfaceKernels numbered() {
  SurfaceKernels k;
  k.column_pitch_mm = 4.5;
  k.numbers.node = 1.0 / 3.0;
  k.numbers.cover_per_mm2 = 36.1;
  k.surroundings_mm = 25.1;
  k.allowances = {0.7, 0.9, 0.4, 1.25};
  double next = 0.1;
  for (Kernel* kernel : {&k.q_row, &k.q_column, &k.phi_row, &k.phi_column, &k.loss}) {
    kernel->terms.resize(kernel == &k.loss ? 3 : 1);
    kernel->residual = next * 1e-3;
    for (Separable& s : kernel->terms) {
      s.x = {0.225, {next, -next, next / 7.0}};
      s.y = {0.25, {next * 1e-12, next * 1e12}};
      next += 0.1;
    }
  }
  return k;
}

std::string complaint(const std::string& text, const std::string& input = {}) {
  try {
    parse_kernels(text, "k.txt", input);
  } catch (const PanelError& error) {
    return error.what();
  }
  return {};
}

TEST(KernelFile, KeepsEveryNumberToTheLastBit) {
  const SurfaceKernels k = numbered();
  const SurfaceKernels back =
      parse_kernels(format_kernels(k, "some panel", "made by hand\nsecond line"), "k.txt");
  EXPECT_EQ(back.column_pitch_mm, k.column_pitch_mm);
  EXPECT_EQ(back.numbers.node, k.numbers.node);
  EXPECT_EQ(back.allowances.loss_power, k.allowances.loss_power);
  ASSERT_EQ(back.loss.terms.size(), 3u);
  EXPECT_EQ(back.loss.terms[2].x.bins, k.loss.terms[2].x.bins);
  EXPECT_EQ(back.loss.residual, k.loss.residual);
  EXPECT_EQ(back.surroundings_mm, k.surroundings_mm);
  ASSERT_EQ(back.phi_column.terms.size(), 1u);
  EXPECT_EQ(back.phi_column.terms[0].y.bins, k.phi_column.terms[0].y.bins);
  EXPECT_EQ(back.phi_column.terms[0].x.step_mm, 0.225);
  EXPECT_EQ(back.q_column.terms[0].y.step_mm, 0.25);
}

TEST(KernelFile, EveryDamagedByteIsNoticed) {
  const std::string good = format_kernels(numbered(), "some panel", "made by hand");
  ASSERT_EQ(complaint(good), "");
  for (std::size_t i = 0; i < good.size(); ++i) {
    std::string bad = good;
    bad[i] = static_cast<char>(bad[i] ^ 1);
    EXPECT_THAT(complaint(bad), HasSubstr("k.txt")) << "byte " << i;
  }
  for (std::size_t length = 0; length < good.size(); length += 7)
    EXPECT_THAT(complaint(good.substr(0, length)), HasSubstr("k.txt")) << "cut at " << length;
}

TEST(KernelFile, OfAnotherPanelIsRefused) {
  const std::string text = format_kernels(numbered(), "some panel", "");
  EXPECT_EQ(complaint(text, "some panel"), "");
  EXPECT_THAT(complaint(text, "some other panel"), HasSubstr("another panel"));
}

TEST(KernelInput, ChangesWithEverythingTheSolutionDependsOn) {
  const Mesh mesh;
  const std::string base = kernel_input(reference_panel(), mesh);
  const auto differs = [&](auto&& change) {
    PanelSpec panel = reference_panel();
    change(panel);
    return kernel_input(panel, mesh) != base;
  };
  EXPECT_TRUE(differs([](PanelSpec& p) { p.layers[0].thickness_mm = 1.1000001; }));
  EXPECT_TRUE(differs([](PanelSpec& p) { p.layers[3].permittivity = 1.1; }));
  EXPECT_TRUE(differs([](PanelSpec& p) { p.rows.width_mm = 4.7; }));
  EXPECT_TRUE(differs([](PanelSpec& p) { p.columns.pitch_mm = 4.9; }));
  EXPECT_TRUE(differs([](PanelSpec& p) { p.surroundings_mm = 0.0; }));
  EXPECT_NE(kernel_input(reference_panel(), mesh.finer(2)), base);
  EXPECT_FALSE(differs([](PanelSpec& p) { p.name = "renamed"; }));
}

/// A cache directory of its own and a mesh that solves in a moment.
class EmptyCache : public ::testing::Test {
 protected:
  void SetUp() override {
    directory_ = fs::temp_directory_path() /
                 ("bareglass-cache-" + std::to_string(::getpid()) + "-" +
                  ::testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::remove_all(directory_);
    mesh_.edge_mm = 0.3;
    mesh_.bulk_mm = 1.2;
    mesh_.growth = 0.9;
  }
  void TearDown() override { fs::remove_all(directory_); }
  SurfaceKernels get() { return cached_kernels(reference_panel(), mesh_, source_, directory_); }

  fs::path directory_;
  Mesh mesh_;
  KernelSource source_;
};

TEST_F(EmptyCache, SolvesOnceThenReads) {
  const SurfaceKernels first = get();
  EXPECT_EQ(source_.origin, KernelSource::Origin::kSolved);
  EXPECT_EQ(source_.warning, "");
  ASSERT_TRUE(fs::exists(source_.path));
  const SurfaceKernels second = get();
  EXPECT_EQ(source_.origin, KernelSource::Origin::kCached);
  EXPECT_EQ(second.numbers.node, first.numbers.node);
  EXPECT_EQ(second.q_row.terms[0].y.bins, first.q_row.terms[0].y.bins);
  // Nothing but the one file: the temporary one was renamed.
  EXPECT_EQ(std::distance(fs::directory_iterator(directory_), {}), 1);
}

TEST_F(EmptyCache, DamagedFileIsReportedAndReplaced) {
  const SurfaceKernels first = get();
  std::string text = read(source_.path);
  text[text.size() / 2] = text[text.size() / 2] == '7' ? '8' : '7';
  overwrite(source_.path, text);
  const SurfaceKernels again = get();
  EXPECT_EQ(source_.origin, KernelSource::Origin::kSolved);
  EXPECT_THAT(source_.warning, HasSubstr("damaged"));
  EXPECT_EQ(again.numbers.node, first.numbers.node);
  get();
  EXPECT_EQ(source_.origin, KernelSource::Origin::kCached);
}

TEST_F(EmptyCache, ThatCannotBeWrittenOnlyWarns) {
  overwrite(directory_, "a file where the directory should be");
  const SurfaceKernels kernels = get();
  EXPECT_GT(kernels.numbers.node, 1000.0);
  EXPECT_THAT(source_.warning, HasSubstr(directory_.string()));
}

TEST(CacheDirectory, FollowsTheEnvironment) {
  ::setenv("XDG_CACHE_HOME", "/somewhere", 1);
  EXPECT_EQ(cache_directory(), "/somewhere/bareglass");
  ::setenv("XDG_CACHE_HOME", "relative", 1);
  ::setenv("HOME", "/home/nobody", 1);
  EXPECT_EQ(cache_directory(), "/home/nobody/.cache/bareglass");
  ::unsetenv("XDG_CACHE_HOME");
  ::unsetenv("HOME");
  EXPECT_EQ(cache_directory(), "");
}

}  // namespace
}  // namespace bareglass::field
