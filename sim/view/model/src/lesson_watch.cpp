#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "bareglass/view/bench_words.hpp"
#include "bareglass/view/lesson_run.hpp"
#include "bareglass/view/plain_words.hpp"
#include "bareglass/words/text.hpp"
#include "lesson_words.hpp"

namespace bareglass::view {

namespace {

using Takes = LessonWatch::Takes;

struct Quantity {
  const char* name;
  Takes takes;
};
constexpr Quantity kQuantities[] = {
    {"state", Takes::nothing},
    {"policy", Takes::nothing},
    {"seconds_until_on", Takes::nothing},
    {"seconds", Takes::nothing},
    {"was_off", Takes::nothing},
    {"looks", Takes::nothing},
    {"finding", Takes::nothing},
    {"reason", Takes::nothing},
    {"contacts", Takes::nothing},
    {"contacts_most", Takes::nothing},
    {"contacts_nobody_made", Takes::nothing},
    {"percent_of_finger", Takes::thing},
    {"percent_shown", Takes::thing},
    {"raw_change", Takes::node},
    {"highest", Takes::nothing},
    {"lowest", Takes::nothing},
    {"highest_ever", Takes::nothing},
    {"lowest_ever", Takes::nothing},
    {"touch_limit", Takes::nothing},
    {"surface_limit", Takes::nothing},
    {"glass_mm", Takes::nothing},
};

/// A number is rounded before it is shown and before it is held against anything, so that nobody
/// reads "5 %" and is told that it is not 5.
Reading number(double value, const char* unit, int digits) {
  const double scale = std::pow(10.0, digits);
  double rounded = std::round(value * scale) / scale;
  if (rounded == 0.0) rounded = 0.0;  // no "-0"
  const std::string text = fmt::format("{:.{}f}", rounded, digits);
  return {rounded, text, text + unit};
}

Reading percent_reading(double value) {
  return number(value, " %", std::abs(value) < 9.95 ? 1 : 0);
}
Reading whole(int value) { return number(value, "", 0); }
Reading word(std::string text) { return {std::nullopt, text, text}; }

}  // namespace

std::optional<Takes> LessonWatch::is_quantity(const std::string& name) {
  for (const Quantity& q : kQuantities)
    if (name == q.name) return q.takes;
  return std::nullopt;
}

std::string LessonWatch::quantity_names() {
  std::string out;
  for (const Quantity& q : kQuantities) out += (out.empty() ? "" : ", ") + std::string(q.name);
  return out;
}

void LessonWatch::begin_step() {
  contacts_most_ = nobody_made_ = 0;
  was_off_ = false;
  highest_ = lowest_ = 0.0;
  finding_ = FindingKind::none;
}

double LessonWatch::percent(std::int32_t counts) const {
  return 100.0 * counts / bench_.unit().device().settings().finger_counts;
}

void LessonWatch::see(const panel::LiveUnit::Step& step) {
  if (!step.powered) return;
  const Engine& device = bench_.unit().device();
  if (step.restarted || bench_.unit().power_up_us() != power_up_us_) {
    power_up_us_ = bench_.unit().power_up_us();
    on_after_s_.reset();
    looks_ = 0;
  }
  if (step.result.looked) ++looks_;
  if (device.input_on() && !on_after_s_)
    on_after_s_ = static_cast<double>(bench_.unit().t_us() - power_up_us_) * 1e-6;
  was_off_ = was_off_ || !device.input_on();
  const std::vector<BenchContact> contacts = bench_.contacts();
  contacts_most_ = std::max(contacts_most_, static_cast<int>(contacts.size()));
  const auto nobody = std::count_if(contacts.begin(), contacts.end(),
                                    [](const BenchContact& c) { return !c.made; });
  nobody_made_ = std::max(nobody_made_, static_cast<int>(nobody));
  if (const Finding* worst = device.findings().empty() ? nullptr : &device.findings()[0]) {
    for (const Finding& f : device.findings())
      if (!f.gone && std::abs(f.peak) > std::abs(worst->peak)) worst = &f;
    if (worst->confirmed && !worst->gone) finding_ = worst->kind;
  }
  if (device.state() == InputState::looking || device.state() == InputState::settling) return;
  for (const std::int16_t d : device.difference()) {
    highest_ = std::max(highest_, percent(d));
    lowest_ = std::min(lowest_, percent(d));
  }
}

Reading LessonWatch::read(const std::string& quantity, const std::string& argument) {
  for (const auto& reader :
       {&LessonWatch::of_state, &LessonWatch::of_contacts, &LessonWatch::of_settings}) {
    Reading out = (this->*reader)(quantity);
    if (!out.word.empty()) return out;
  }
  return of_signals(quantity, argument);
}

Reading LessonWatch::of_state(const std::string& quantity) {
  const panel::LiveUnit& unit = bench_.unit();
  const InputState state = unit.powered() ? unit.device().state() : InputState::unpowered;
  if (quantity == "state")
    return {std::nullopt, name_of(state), plain_state(state, bench_.story().policy)};
  if (quantity == "policy") return word(host::text::policy(bench_.story().policy));
  if (quantity == "seconds_until_on")
    return on_after_s_ ? number(*on_after_s_, " s", *on_after_s_ < 10 ? 2 : 0) : word("never");
  if (quantity == "seconds")
    return number(static_cast<double>(unit.t_us() - power_up_us_) * 1e-6, " s", 1);
  if (quantity == "was_off") return word(was_off_ ? "yes" : "no");
  if (quantity == "looks") return whole(looks_);
  if (quantity == "finding") return {std::nullopt, word_of(finding_), words_of(finding_)};
  if (quantity != "reason") return {};
  const std::string reason = reason_sentence(unit.device(), unit.powered());
  return word(reason.empty() ? "No decision has been taken yet." : reason);
}

Reading LessonWatch::of_contacts(const std::string& quantity) {
  if (quantity == "contacts") return whole(static_cast<int>(bench_.contacts().size()));
  if (quantity == "contacts_most") return whole(contacts_most_);
  if (quantity == "contacts_nobody_made") return whole(nobody_made_);
  return {};
}

Reading LessonWatch::of_settings(const std::string& quantity) {
  const Settings& s = bench_.unit().device().settings();
  if (quantity == "touch_limit") return percent_reading(s.touch_on_permille / 10.0);
  if (quantity == "surface_limit") return percent_reading(s.surface_permille / 10.0);
  if (quantity == "glass_mm")
    return number(bench_.story().panel.layers.front().thickness_mm, " mm", 1);
  return {};
}

Reading LessonWatch::of_signals(const std::string& quantity, const std::string& argument) {
  if (quantity == "percent_of_finger") return percent_reading(percent_of_finger(argument));
  if (quantity == "percent_shown") return percent_reading(percent_shown(argument));
  if (quantity == "raw_change") return percent_reading(raw_change(argument));
  if (quantity == "highest_ever") return percent_reading(highest_);
  if (quantity == "lowest_ever") return percent_reading(lowest_);
  const View<const std::int16_t> d = bench_.unit().device().difference();
  if (d.empty()) return percent_reading(0.0);
  const bool highest = quantity == "highest";
  return percent_reading(percent(highest ? *std::max_element(d.begin(), d.end())
                                         : *std::min_element(d.begin(), d.end())));
}

// The thing alone on a bare panel, without noise: its strongest node against the signal of an 8 mm
// finger on an earthed device.
double LessonWatch::percent_of_finger(const std::string& thing) {
  const std::size_t index = *bench_.thing_named(thing);
  const panel::ThingSpec& spec = bench_.story().things[index];
  const panel::ThingState state = bench_.unit().timeline().thing(index);
  const panel::OutlinePtr outline = state.there ? state.outline : spec.outline;
  const field::Point place = state.there ? state.place : spec.place;
  panel::GlassResponse response;
  std::vector<panel::Conductor> conductors;
  std::vector<panel::Film> films;
  if (spec.is_film)
    films.push_back(
        {outline, place, state.there ? state.film_um : spec.film_um, spec.permittivity});
  else
    conductors.push_back({outline, place, state.there ? state.earth_pf : spec.earth_pf,
                          state.there ? state.device_pf : spec.device_pf, spec.spacer});
  bench_.glass().respond(response, conductors, films, bench_.surroundings().earth_pf);
  Eigen::Index row = 0;
  Eigen::Index column = 0;
  response.change.cwiseAbs().maxCoeff(&row, &column);
  return 100.0 * response.change(row, column) / bench_.glass().finger_change();
}

double LessonWatch::percent_shown(const std::string& thing) {
  const panel::ThingState state = bench_.unit().timeline().thing(*bench_.thing_named(thing));
  const View<const std::int16_t> d = bench_.unit().device().difference();
  if (!state.there || d.empty()) return 0.0;
  const panel::Scenario& story = bench_.story();
  std::int32_t strongest = 0;
  for (int r = 0; r < story.setup.rows; ++r)
    for (int c = 0; c < story.setup.columns; ++c) {
      const field::Point own{c * story.panel.columns.pitch_mm - state.place.x,
                             r * story.panel.rows.pitch_mm - state.place.y};
      if (state.outline->footprint().distance(own) > 0.5 * story.panel.rows.pitch_mm) continue;
      const std::int32_t value = d[static_cast<std::size_t>(r * story.setup.columns + c)];
      if (std::abs(value) > std::abs(strongest)) strongest = value;
    }
  return percent(strongest);
}

double LessonWatch::raw_change(const std::string& text) {
  const NodeWord node = *node_of(text);
  const auto k = static_cast<std::size_t>(node.row * bench_.story().setup.columns + node.column);
  const std::vector<std::uint16_t>& raw = bench_.unit().frame().raw;
  const double bare = bench_.unit().reference()[k];
  return raw.empty() ? 0.0 : 100.0 * (raw[k] - bare) / bare;
}

std::string LessonWatch::fill(const std::string& text) {
  return for_each_placeholder(text, [&](const std::string& inside) {
    const Phrase phrase = phrase_of(inside);
    return read(phrase.quantity, phrase.argument).shown;
  });
}

bool LessonWatch::holds(const LessonCondition& c) {
  using Operator = LessonCondition::Operator;
  const Reading reading = read(c.quantity, c.argument);
  switch (c.op) {
    case Operator::is:
      return reading.word == c.word;
    case Operator::is_not:
      return reading.word != c.word;
    case Operator::below:
      return reading.number && *reading.number < c.number;
    case Operator::at_most:
      return reading.number && *reading.number <= c.number;
    case Operator::above:
      return reading.number && *reading.number > c.number;
    case Operator::at_least:
      return reading.number && *reading.number >= c.number;
  }
  return false;
}

}  // namespace bareglass::view
