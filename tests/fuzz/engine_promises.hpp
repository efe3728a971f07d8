#pragma once
// What an engine keeps whatever it is fed, checked after every frame.

#include "bareglass/core/engine.hpp"
#include "fuzz_bytes.hpp"

namespace bareglass::fuzz {

class EnginePromises {
 public:
  void check(const Engine& engine, const StepResult& step, bool on_before,
             std::uint32_t journal_before) {
    contacts(engine);
    findings(engine);
    journal(engine, journal_before);
    require(engine.input_on() == on_before || engine.journal().end() > journal_before,
            "input goes on or off with an entry in the journal");
    require(!step.state_changed || engine.journal().end() > journal_before,
            "the state changes with an entry in the journal");
  }

 private:
  void contacts(const Engine& engine) {
    const Shape shape = engine.settings().shape;
    const View<const Contact> all = engine.contacts();
    for (std::size_t k = 0; k < all.size; ++k) {
      const Contact& c = all[k];
      require(c.id < kMaxContacts, "a contact's id is below the most contacts");
      for (std::size_t other = 0; other < k; ++other)
        require(all[other].id != c.id || all[other].tip != c.tip, "contacts' ids are unique");
      require(c.x_q8 >= -128 && c.x_q8 <= 256 * shape.cols - 128 && c.y_q8 >= -128 &&
                  c.y_q8 <= 256 * shape.rows - 128,
              "contacts lie on the panel");
      require(!c.tip || engine.input_on(), "no contact is down while input is off");
    }
    lifts(all);
  }

  // Lifts before touches: an id may be lifted and given again in one frame.
  void lifts(View<const Contact> all) {
    for (const Contact& c : all) {
      if (c.tip) continue;
      require(down_[c.id] || tolerated("lifts"), "each lift is told once");
      down_[c.id] = false;
    }
    bool seen[kMaxContacts] = {};
    for (const Contact& c : all)
      if (c.tip) down_[c.id] = seen[c.id] = true;
    for (int id = 0; id < kMaxContacts; ++id)
      require(!down_[id] || seen[id] || tolerated("lifts"),
              "a contact that is down is reported until it is lifted");
  }

  static void findings(const Engine& engine) {
    const Shape shape = engine.settings().shape;
    for (const Finding& f : engine.findings()) {
      require(f.box.row0 <= f.box.row1 && f.box.row1 < shape.rows && f.box.col0 <= f.box.col1 &&
                  f.box.col1 < shape.cols,
              "findings lie on the panel");
      require(f.confidence <= 1000, "confidence is at most 1000 permille");
      require(f.first_us <= f.last_us, "findings end after they begin");
    }
  }

  static void journal(const Engine& engine, std::uint32_t before) {
    const Journal& journal = engine.journal();
    const Shape shape = engine.settings().shape;
    require(journal.end() >= before, "the journal only grows");
    require(journal.end() - before < Journal::kSize, "one frame never fills the whole journal");
    for (std::uint32_t n = std::max(before, journal.first()); n < journal.end(); ++n) {
      const JournalEntry& e = journal.at(n);
      require(e.code != JournalCode::none, "every entry says what happened");
      require((e.row == kNoLine || e.row < shape.rows) && (e.col == kNoLine || e.col < shape.cols),
              "entries name places on the panel");
    }
  }

  bool down_[kMaxContacts] = {};
};

}  // namespace bareglass::fuzz
