// The pages in a browser, as people meet them: on a wide screen, on a phone, on A4 and Letter
// paper. Screenshots stay in the build folder under report_pages.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <png.h>

#include <cstdlib>
#include <filesystem>
#include <regex>
#include <vector>

#include "support/run_command.hpp"

namespace bareglass {
namespace {

using support::CommandResult;
using support::ScratchFolder;
using ::testing::HasSubstr;

using support::kFixtures;
const std::string kKept = BAREGLASS_BINARY_DIR "/report_pages/";
constexpr int kWidths[] = {1280, 390};  // px: a wide screen, a phone

struct Picture {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;
};

Picture read_png(const std::string& path) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  Picture p;
  if (png_image_begin_read_from_file(&image, path.c_str()) == 0) return p;
  image.format = PNG_FORMAT_RGB;
  p.width = static_cast<int>(image.width);
  p.height = static_cast<int>(image.height);
  p.rgb.resize(PNG_IMAGE_SIZE(image));
  if (png_image_finish_read(&image, nullptr, p.rgb.data(), 0, nullptr) == 0) return {};
  return p;
}

// The part of a picture from column `left` on.
Picture columns(const Picture& whole, int left, int width) {
  Picture p;
  p.width = width;
  p.height = whole.height;
  for (int y = 0; y < p.height; ++y) {
    const auto from = whole.rgb.begin() + 3 * (static_cast<std::ptrdiff_t>(y) * whole.width + left);
    p.rgb.insert(p.rgb.end(), from, from + 3 * width);
  }
  return p;
}

// Shares of all pixels.
struct Inks {
  double dark = 0.0;   // letters and frames
  double blue = 0.0;   // opposite to a touch
  double white = 0.0;  // paper
};

Inks inks_of(const Picture& p) {
  Inks n;
  for (std::size_t i = 0; i + 2 < p.rgb.size(); i += 3) {
    const int r = p.rgb[i], g = p.rgb[i + 1], b = p.rgb[i + 2];
    n.dark += r < 80 && g < 80 && b < 80;
    n.blue += b > r + 50 && b > g + 25;
    n.white += r > 250 && g > 250 && b > 250;
  }
  const double all = static_cast<double>(p.rgb.size()) / 3.0;
  return {n.dark / all, n.blue / all, n.white / all};
}

class PagesInABrowser : public ::testing::Test {
 protected:
  void SetUp() override {
    if (support::run_shell(scratch_, "command -v chromium").code != 0)
      GTEST_SKIP() << "chromium is not installed: tools/install-packages.sh test";
    std::filesystem::create_directories(kKept);
    const CommandResult r = support::run_shell(
        scratch_, "$BAREGLASS explain " + kFixtures + "damp-note-peeled.frames --report " +
                      (scratch_ / "report.html") + " --ward-page " + (scratch_ / "ward.html"));
    ASSERT_EQ(r.code, 0) << r.err;
  }
  CommandResult browse(const std::string& options, const std::string& page) {
    return support::run_shell(scratch_,
                              "timeout 120 chromium --headless --no-sandbox "
                              "--disable-gpu --hide-scrollbars --user-data-dir=" +
                                  (scratch_ / "profile") + " " + options + " 'file://" + page +
                                  "'");
  }
  // A copy of `page` that may run a script and holds `more` at the end of its body.
  std::string copy(const std::string& page, const std::string& more) {
    std::string html = support::read_file(scratch_ / (page + ".html"));
    html = std::regex_replace(html, std::regex("<meta http-equiv[^>]*>"), "");
    html.insert(html.rfind("</body>"), more);
    support::write_file(scratch_ / (page + "-copy.html"), html);
    return scratch_ / (page + "-copy.html");
  }
  void expect_fits(const std::string& page, int least_pictures, double least_blue);
  int pages_on(const std::string& page, const std::string& paper);
  ScratchFolder scratch_;
};

// What sticks out of a frame, and pictures without any size, are counted.
const std::string kCountingScript =
    "<script>const w=document.documentElement.clientWidth;let out=0,seen=0;"
    "for(const e of document.querySelectorAll('body *')){const r=e.getBoundingClientRect();"
    "if(e.closest('svg')&&e.tagName!=='svg')continue;"
    "if(r.right>w+1||r.left<-1)++out;"
    "if(e.tagName==='svg'&&r.width>50&&r.height>4)++seen;}"
    "parent.document.title+='width '+w+' out '+out+' pictures '+seen+"
    "' scroll '+(document.documentElement.scrollWidth-w)+'; ';</script>";

// Frames of the wanted widths beside each other: browsers refuse windows as narrow as a phone, and
// a browser takes longer to start than to draw, so it is started once for both and for the picture.
std::string frames_of(const std::string& html) {
  std::string quoted;
  for (const char c : html) quoted += c == '&' ? "&amp;" : c == '"' ? "&quot;" : std::string(1, c);
  std::string out =
      "<!DOCTYPE html><html><head><title></title></head><body style=\"margin:0;display:flex\">";
  for (const int width : kWidths)
    out += "<iframe style=\"border:0;flex:none;width:" + std::to_string(width) +
           "px;height:3000px\" srcdoc=\"" + quoted + "\"></iframe>";
  return out + "</body></html>";
}

void PagesInABrowser::expect_fits(const std::string& page, int least_pictures, double least_blue) {
  const std::string outer = scratch_ / (page + "-frames.html");
  support::write_file(outer, frames_of(support::read_file(copy(page, kCountingScript))));
  const std::string kept = kKept + page + ".png";
  std::filesystem::remove(kept);
  const CommandResult r = browse("--window-size=" + std::to_string(kWidths[0] + kWidths[1]) +
                                     ",2400 --dump-dom --screenshot=" + kept,
                                 outer);
  const Picture shot = read_png(kept);
  ASSERT_EQ(shot.width, kWidths[0] + kWidths[1]) << "no screenshot at " << kept;
  int left = 0;
  for (const int width : kWidths) {
    std::smatch m;
    ASSERT_TRUE(std::regex_search(r.out, m,
                                  std::regex("width " + std::to_string(width) +
                                             " out (\\d+) pictures (\\d+) scroll (-?\\d+);")))
        << r.out.substr(0, 300) << r.err;
    EXPECT_EQ(std::stoi(m[1]), 0) << page << ": parts stick out of " << width << " px";
    EXPECT_GE(std::stoi(m[2]), least_pictures);
    EXPECT_LE(std::stoi(m[3]), 0) << page << " scrolls sideways at " << width << " px";
    const Inks inks = inks_of(columns(shot, left, width));
    EXPECT_GT(inks.dark, 0.01) << "letters";
    EXPECT_GE(inks.blue, least_blue) << "the damp note's striped blue";
    EXPECT_GT(inks.white, 0.3);
    left += width;
  }
}

int PagesInABrowser::pages_on(const std::string& page, const std::string& paper) {
  const std::string inner = copy(page, "<style>@page{size:" + paper + "}</style>");
  const std::string pdf = kKept + page + "-" + paper + ".pdf";
  std::filesystem::remove(pdf);
  browse("--no-pdf-header-footer --print-to-pdf=" + pdf, inner);
  // Each page of a PDF file is an object with /Type /Page (ISO 32000-1, 7.7.3.3).
  const std::string bytes = support::read_file(pdf);
  const std::regex one("/Type\\s*/Page[^s]");
  return static_cast<int>(
      std::distance(std::sregex_iterator(bytes.begin(), bytes.end(), one), std::sregex_iterator()));
}

TEST_F(PagesInABrowser, ReportFitsAWideScreenAndAPhone) { expect_fits("report", 5, 0.002); }

TEST_F(PagesInABrowser, WardPageFitsAWideScreenAndAPhone) { expect_fits("ward", 1, 0.002); }

TEST_F(PagesInABrowser, FleetFitsAWideScreenAPhoneAndOneSheet) {
  std::filesystem::create_directories(scratch_ / "dumps");
  for (const char* name : {"damp-note-peeled", "finger-at-power-up", "wet-bezel", "bare-glass"})
    std::filesystem::copy_file(kFixtures + name + ".frames",
                               scratch_ / ("dumps/" + std::string(name) + ".frames"));
  support::write_file(scratch_ / "dumps/units.csv",
                      "unit,ward,date,taped\n"
                      "bay1-monitor-02,North,2026-03-02,yes\n"
                      "bay2-pump-07,\"South, ground floor, rooms 1 to 12\",2026-03-05,unknown\n"
                      "bay2-pump-04,North,2026-03-05,no\n"
                      "bay3-pump-01,S\xC3\xBC"
                      "d <b>,2026-03-05,yes\n");
  const CommandResult r =
      support::run_shell(scratch_, "$BAREGLASS fleet " + (scratch_ / "dumps") + " --report " +
                                       (scratch_ / "fleet.html"));
  ASSERT_EQ(r.code, 0) << r.err;
  // Four causes and three wards, a bar for each.
  expect_fits("fleet", 7, 0.0);
  EXPECT_EQ(pages_on("fleet", "A4"), 1);
  EXPECT_EQ(pages_on("fleet", "letter"), 1);
}

TEST_F(PagesInABrowser, PrintOnAFewSheets) {
  for (const char* paper : {"A4", "letter"}) {
    const int report = pages_on("report", paper);
    EXPECT_GE(report, 1) << paper << ": nothing was printed";
    EXPECT_LE(report, 2) << paper;
    EXPECT_EQ(pages_on("ward", paper), 1) << paper;
  }
}

}  // namespace
}  // namespace bareglass
