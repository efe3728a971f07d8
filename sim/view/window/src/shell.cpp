#include "bareglass/view/shell.hpp"

#include <SDL.h>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <optional>
#include <stdexcept>

#include "imgui_sdl.hpp"

namespace bareglass::view {

namespace {

/// Longest step of the page's time: after a pause the page does not hurry after what was missed.
constexpr double kLongestStep_s = 0.1;

[[noreturn]] void fail(const char* what) {
  throw std::runtime_error(fmt::format("{}: {}", what, SDL_GetError()));
}

float display_scale(SDL_Window* window) {
  constexpr float kPlainDpi = 96.0F;
  float dpi = 0.0F;
  if (SDL_GetDisplayDPI(SDL_GetWindowDisplayIndex(window), nullptr, &dpi, nullptr) != 0)
    return 1.0F;
  // Displays that report nonsense are taken as plain; sizes go by quarters.
  const float scale = static_cast<float>(static_cast<int>(4.0F * dpi / kPlainDpi + 0.5F)) / 4.0F;
  return scale >= 1.0F && scale <= 4.0F ? scale : 1.0F;
}

}  // namespace

struct Shell::State {
  SDL_Window* window = nullptr;
  SDL_Renderer* renderer = nullptr;
  SDL_Texture* font = nullptr;
  ImGuiContext* context = nullptr;
  Theme theme;
  Page* page = nullptr;
  std::vector<KeyBinding> keys;
  bool open = true;
  bool help = false;
  bool hidden = false;
  std::optional<SDL_Event> held;  ///< taken from the queue, for the next frame

  ~State() {
    if (context != nullptr) ImGui::DestroyContext(context);
    if (font != nullptr) SDL_DestroyTexture(font);
    if (renderer != nullptr) SDL_DestroyRenderer(renderer);
    if (window != nullptr) SDL_DestroyWindow(window);
    SDL_QuitSubSystem(SDL_INIT_VIDEO);
  }

  void show(Page& shown) {
    if (page == &shown) return;
    page = &shown;
    keys = shown.keys();
    SDL_SetWindowTitle(window, shown.title().c_str());
  }
  float pixels_per_point() const {
    int points = 0;
    int pixels = 0;
    SDL_GetWindowSize(window, &points, nullptr);
    SDL_GetRendererOutputSize(renderer, &pixels, nullptr);
    return points > 0 ? static_cast<float>(pixels) / static_cast<float>(points) : 1.0F;
  }
  void take_events();
  bool take_shortcut(const SDL_KeyboardEvent& key);
  void draw_help(float width, float height);
};

Shell::Shell(const ShellOptions& options) : state_(std::make_unique<State>()) {
  State& s = *state_;
  if (options.hidden) SDL_SetHint(SDL_HINT_VIDEODRIVER, "dummy");
  SDL_SetHint(SDL_HINT_RENDER_SCALE_QUALITY, "nearest");
  if (options.hidden) SDL_SetHint(SDL_HINT_RENDER_DRIVER, "software");
  if (SDL_InitSubSystem(SDL_INIT_VIDEO) != 0) fail("no video");
  s.hidden = options.hidden;
  s.window = SDL_CreateWindow("bareglass", SDL_WINDOWPOS_UNDEFINED, SDL_WINDOWPOS_UNDEFINED,
                              options.width, options.height,
                              SDL_WINDOW_RESIZABLE | SDL_WINDOW_ALLOW_HIGHDPI |
                                  static_cast<Uint32>(options.hidden ? SDL_WINDOW_HIDDEN : 0));
  if (s.window == nullptr) fail("no window");
  s.renderer = SDL_CreateRenderer(
      s.window, -1, options.hidden ? SDL_RENDERER_SOFTWARE : SDL_RENDERER_PRESENTVSYNC);
  if (s.renderer == nullptr) s.renderer = SDL_CreateRenderer(s.window, -1, SDL_RENDERER_SOFTWARE);
  if (s.renderer == nullptr) fail("nothing to draw with");
  SDL_SetRenderDrawBlendMode(s.renderer, SDL_BLENDMODE_BLEND);
  s.context = ImGui::CreateContext();
  ImGuiIO& io = ImGui::GetIO();
  io.IniFilename = nullptr;
  io.BackendFlags |= ImGuiBackendFlags_RendererHasVtxOffset;
  map_keys(io);
  const float scale = options.scale > 0.0F ? options.scale : display_scale(s.window);
  s.theme = make_theme(scale * s.pixels_per_point());
  if (options.scale <= 0.0F && scale > 1.0F)
    SDL_SetWindowSize(s.window, static_cast<int>(static_cast<float>(options.width) * scale),
                      static_cast<int>(static_cast<float>(options.height) * scale));
  s.font = make_font_texture(s.renderer);
  if (s.font == nullptr) fail("no font texture");
}

Shell::~Shell() = default;

const Theme& Shell::theme() const { return state_->theme; }

bool Shell::State::take_shortcut(const SDL_KeyboardEvent& key) {
  const bool control = (key.keysym.mod & KMOD_CTRL) != 0;
  const bool shift = (key.keysym.mod & KMOD_SHIFT) != 0;
  const SDL_Keycode code = key.keysym.sym;
  if (code == SDLK_F1) {
    help = !help;
    return true;
  }
  if (help && code == SDLK_ESCAPE) {
    help = false;
    return true;
  }
  if (control && code == SDLK_q) {
    open = false;
    return true;
  }
  if (ImGui::GetIO().WantTextInput) return false;
  for (const KeyBinding& binding : keys)
    if (binding.key == code && binding.shift == shift && binding.control == control) {
      if (binding.act) binding.act();
      return true;
    }
  return false;
}

void Shell::State::take_events() {
  const float ppp = pixels_per_point();
  // A press and its release within one frame would be no click, and no key to a text field: the
  // second waits for the next frame.
  bool pressed = false;
  bool typed = false;
  const auto is_button = [](const SDL_Event& e) {
    return e.type == SDL_MOUSEBUTTONDOWN || e.type == SDL_MOUSEBUTTONUP;
  };
  for (SDL_Event event; held || SDL_PollEvent(&event) != 0;) {
    if (held) event = *held;
    held.reset();
    if ((is_button(event) && pressed) || (event.type == SDL_KEYUP && typed)) {
      held = event;
      break;
    }
    pressed = pressed || is_button(event);
    if (event.type == SDL_QUIT) open = false;
    if (event.type == SDL_DROPFILE) {
      page->drop(event.drop.file);
      SDL_free(event.drop.file);
      SDL_SetWindowTitle(window, page->title().c_str());
      continue;
    }
    if (event.type == SDL_KEYDOWN && take_shortcut(event.key)) continue;
    typed = typed || event.type == SDL_KEYDOWN;
    take_event(event, ppp);
  }
}

void Shell::State::draw_help(float width, float height) {
  ImGui::SetNextWindowPos({0.5F * width, 0.5F * height}, ImGuiCond_Always, {0.5F, 0.5F});
  ImGui::SetNextWindowSize({theme.px(620), 0.0F});
  ImGui::PushStyleVar(ImGuiStyleVar_WindowBorderSize, 2.0F);
  ImGui::Begin("keys", nullptr,
               ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_AlwaysAutoResize |
                   ImGuiWindowFlags_NoSavedSettings);
  ImGui::PushFont(theme.large);
  ImGui::TextUnformatted("Keys");
  ImGui::PopFont();
  if (ImGui::BeginTable("table", 2)) {
    ImGui::TableSetupColumn("key", ImGuiTableColumnFlags_WidthFixed, theme.px(170));
    const auto line = [&](const char* shown, const char* what) {
      ImGui::TableNextRow();
      ImGui::TableNextColumn();
      ImGui::PushFont(theme.strong);
      ImGui::TextUnformatted(shown);
      ImGui::PopFont();
      ImGui::TableNextColumn();
      ImGui::TextUnformatted(what);
    };
    for (const KeyBinding& binding : keys)
      if (!binding.shown.empty()) line(binding.shown.c_str(), binding.what.c_str());
    line("F1", "shows and hides this list");
    line("Ctrl+Q", "closes the window");
    ImGui::EndTable();
  }
  ImGui::End();
  ImGui::PopStyleVar();
}

bool Shell::frame(Page& page, double seconds) {
  State& s = *state_;
  ImGui::SetCurrentContext(s.context);
  s.show(page);
  s.take_events();
  page.update(std::min(seconds, kLongestStep_s));
  int width = 0;
  int height = 0;
  SDL_GetRendererOutputSize(s.renderer, &width, &height);
  ImGuiIO& io = ImGui::GetIO();
  io.DisplaySize = {static_cast<float>(width), static_cast<float>(height)};
  io.DeltaTime = static_cast<float>(std::max(seconds, 1e-4));
  ImGui::NewFrame();
  ImGui::PushFont(s.theme.text);
  page.draw(s.theme, io.DisplaySize.x, io.DisplaySize.y);
  if (s.help) s.draw_help(io.DisplaySize.x, io.DisplaySize.y);
  ImGui::PopFont();
  ImGui::Render();
  SDL_SetRenderDrawColor(s.renderer, 243, 241, 234, 255);
  SDL_RenderClear(s.renderer);
  draw_lists(s.renderer, *ImGui::GetDrawData());
  SDL_RenderPresent(s.renderer);
  return s.open;
}

void Shell::run(Page& page) {
  using Clock = std::chrono::steady_clock;
  constexpr auto kFrame = std::chrono::microseconds(16'667);
  auto before = Clock::now();
  double seconds = 0.0;
  // Widgets settle over a few frames after the last event.
  constexpr int kSettling = 4;
  for (int quiet = 0; frame(page, seconds);) {
    quiet = page.moving() || SDL_HasEvents(SDL_FIRSTEVENT, SDL_LASTEVENT) ? 0 : quiet + 1;
    if (quiet > kSettling) {
      constexpr int kLookAgain_ms = 250;  // for a file that grows
      if (SDL_WaitEventTimeout(nullptr, kLookAgain_ms) != 0) quiet = 0;
      const auto woken = Clock::now();
      seconds = std::chrono::duration<double>(woken - before).count();
      before = woken;
      continue;
    }
    // A renderer that waits for the display leaves nothing to wait for here.
    const auto spent = Clock::now() - before;
    if (spent < kFrame)
      SDL_Delay(static_cast<Uint32>(
          std::chrono::duration_cast<std::chrono::milliseconds>(kFrame - spent).count()));
    const auto now = Clock::now();
    seconds = std::chrono::duration<double>(now - before).count();
    before = now;
  }
  page.close();
}

Picture Shell::picture() const {
  Picture out;
  SDL_GetRendererOutputSize(state_->renderer, &out.width, &out.height);
  out.rgb.resize(static_cast<std::size_t>(out.width) * static_cast<std::size_t>(out.height) * 3);
  if (SDL_RenderReadPixels(state_->renderer, nullptr, SDL_PIXELFORMAT_RGB24, out.rgb.data(),
                           3 * out.width) != 0)
    fail("the picture can't be read back");
  return out;
}

std::vector<double> Shell::frame_times_ms(Page& page, int frames, double seconds) {
  using Clock = std::chrono::steady_clock;
  std::vector<double> out;
  for (int n = 0; n < frames; ++n) {
    const auto begin = Clock::now();
    if (!frame(page, seconds)) break;
    out.push_back(std::chrono::duration<double, std::milli>(Clock::now() - begin).count());
  }
  return out;
}

}  // namespace bareglass::view
