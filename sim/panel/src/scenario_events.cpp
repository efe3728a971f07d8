#include <fmt/format.h>

#include <algorithm>

#include "scenario_limits.hpp"

namespace bareglass::panel {

namespace {

/// Reads events; knows the names that may stand in them.
class EventReader {
 public:
  explicit EventReader(const Scenario& scenario) : scenario_(scenario) {}

  Event read(const Section& s, const std::vector<std::string_view>& also) const {
    const std::vector<std::string_view> words = {
        "put",    "lift",   "peel",          "wipe",   "move",      "grow",        "dry",
        "turn",   "ground", "fault",         "repair", "supply",    "temperature", "dock",
        "undock", "earth",  "charger_noise", "ripple", "power_off", "power_on"};
    constexpr Action kActions[] = {
        Action::put,           Action::lift,   Action::lift,      Action::lift,
        Action::move,          Action::grow,   Action::dry,       Action::turn,
        Action::ground,        Action::fault,  Action::repair,    Action::supply,
        Action::temperature,   Action::dock,   Action::undock,    Action::earth,
        Action::charger_noise, Action::ripple, Action::power_off, Action::power_on};
    const std::size_t word = s.word("do", words);
    Event e;
    e.word = words[word];
    e.action = kActions[word];
    e.at_s = s.number("at_s", 0, kLongest, " s");
    std::vector<std::string_view> keys = {"at_s", "do"};
    keys.insert(keys.end(), also.begin(), also.end());
    if (e.action <= Action::ground)
      thing_event(e, s, keys);
    else if (e.action <= Action::repair)
      line_event(e, s, keys);
    else
      device_event(e, s, keys);
    s.allow_only(keys);
    return e;
  }

 private:
  void thing_event(Event& e, const Section& s, std::vector<std::string_view>& keys) const {
    keys.push_back("thing");
    const std::string name = s.text("thing");
    const auto found = std::find_if(scenario_.things.begin(), scenario_.things.end(),
                                    [&](const ThingSpec& t) { return t.name == name; });
    if (found == scenario_.things.end())
      s.fail("thing", fmt::format("expected the name of a [[thing]], not \"{}\"", name));
    e.thing = static_cast<std::size_t>(found - scenario_.things.begin());
    const auto duration = [&] {
      keys.push_back("over_s");
      e.over_s = s.number("over_s", 0.0, 0, kLongest, " s");
    };
    if (e.action == Action::put) {
      keys.insert(keys.end(), {"at_mm", "film_um"});
      if (s.has("at_mm")) e.to = s.point("at_mm");
      if (s.has("film_um") && !found->is_film)
        s.fail("film_um", "expected only for a film: this thing is a conductor");
      e.film_um = s.number("film_um", -1.0, 0, 5000, " um");
    } else if (e.action == Action::turn) {
      keys.push_back("to_deg");
      e.value = s.number("to_deg", -360, 360, " degrees");
    } else if (e.action == Action::move) {
      keys.push_back("to_mm");
      e.to = s.point("to_mm");
      duration();
    } else if (e.action == Action::grow) {
      keys.push_back("to_scale");
      e.value = s.number("to_scale", 0.05, 20, "");
      duration();
    } else if (e.action == Action::dry) {
      duration();
    } else if (e.action == Action::ground) {
      if (found->is_film) s.fail("thing", "expected a conductor: a film has no connection");
      keys.insert(keys.end(), {"earth_pf", "device_pf", "touches_bezel"});
      if (s.has("earth_pf")) e.earth_pf = s.capacitance("earth_pf", 0.0);
      if (s.has("device_pf")) e.device_pf = s.capacitance("device_pf", 0.0);
      if (s.has("touches_bezel")) e.device_pf = s.flag("touches_bezel", false) ? kConnected : 0.0;
    }
  }

  void line_event(Event& e, const Section& s, std::vector<std::string_view>& keys) const {
    keys.push_back("name");
    e.name = s.text("name");
    if (e.action == Action::repair) return;
    keys.insert(keys.end(), {"kind", "lines", "first", "last", "at", "ohm", "there_s", "away_s"});
    LineFault& f = e.fault;
    f.kind = static_cast<LineFault::Kind>(
        s.word("kind", {"open_tail", "cut", "bridge", "raised_resistance"}));
    f.of_rows = s.word("lines", {"rows", "columns"}) == 0;
    const int own = f.of_rows ? scenario_.setup.rows : scenario_.setup.columns;
    const int crossed = f.of_rows ? scenario_.setup.columns : scenario_.setup.rows;
    const bool bridge = f.kind == LineFault::Kind::bridged;
    // A bridge needs a line behind its first one.
    f.first = static_cast<int>(s.whole("first", 0, bridge ? own - 2 : own - 1));
    f.last = bridge ? static_cast<int>(s.whole("last", f.first + 1, own - 1))
                    : static_cast<int>(s.whole("last", f.first, f.first, own - 1));
    if (f.kind == LineFault::Kind::cut) f.at = static_cast<int>(s.whole("at", 1, crossed - 1));
    if (f.kind == LineFault::Kind::raised_resistance) f.ohm = s.number("ohm", 0, 1e7, " ohm");
    if (bridge) f.ohm = s.number("ohm", 0.0, 0, 1e7, " ohm");
    if (!s.has("there_s") && !s.has("away_s")) return;
    f.mean_there_s = s.number("there_s", 1e-3, kLongest, " s");
    f.mean_away_s = s.number("away_s", 1e-3, kLongest, " s");
  }

  static void device_event(Event& e, const Section& s, std::vector<std::string_view>& keys) {
    const auto value = [&](std::string_view key, double low, double high, const char* unit) {
      keys.push_back(key);
      e.value = s.number(key, low, high, unit);
    };
    const auto sliding = [&] {
      keys.push_back("over_s");
      e.over_s = s.number("over_s", 0.0, 0, kLongest, " s");
    };
    if (e.action == Action::supply) {
      value("to_mv", 0, 65535, " mV");
      sliding();
    } else if (e.action == Action::temperature) {
      value("to_c", -40, 85, " C");
      sliding();
    } else if (e.action == Action::earth || e.action == Action::dock ||
               e.action == Action::undock) {
      keys.push_back("earth_pf");
      if (e.action != Action::dock && !s.has("earth_pf"))
        s.fail("earth_pf", "missing; expected a number (pF) or \"earthed\"");
      e.value = s.capacitance("earth_pf", kConnected);
      if (e.value <= 0.0) s.fail("earth_pf", "expected more than 0 pF or \"earthed\"");
    } else if (e.action == Action::charger_noise || e.action == Action::ripple) {
      value("amplitude_v", 0, 1000, " V");
      keys.push_back("frequency_khz");
      e.frequency_hz = 1e3 * s.number("frequency_khz", 0.001, 1e5, " kHz");
    }
  }

  const Scenario& scenario_;
};

}  // namespace

void read_presence(std::vector<Event>& events, const Section& s, std::size_t thing) {
  Event e;
  e.thing = thing;
  e.word = "put";
  const bool put_elsewhere = !s.has("from_s");
  const double from = s.number("from_s", 0.0, 0, kLongest, " s");
  if (!put_elsewhere) {
    e.at_s = from;
    events.push_back(e);
  }
  if (!s.has("until_s")) return;
  if (put_elsewhere) s.fail("until_s", "expected only together with from_s");
  e.at_s = s.number("until_s", from, kLongest, " s");
  e.action = Action::lift;
  e.word = "lift";
  events.push_back(e);
}

Event read_event(const Section& table, const Scenario& scenario,
                 const std::vector<std::string_view>& also) {
  return EventReader(scenario).read(table, also);
}

}  // namespace bareglass::panel
