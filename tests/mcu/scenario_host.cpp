// Tells the story on the host; prints one line a part, as scenario_mcu.cpp does.
#include <cstdio>

#include "mcu/scenario.hpp"

int main() {
  static bareglass::test::Scenario scenario;
  for (const bareglass::test::Scenario::Part& part : bareglass::test::kStory) {
    scenario.run(part, [](auto step) { step(); });
    std::printf("%s: %s, checksum %lu\n", part.name, bareglass::name_of(scenario.engine().state()),
                static_cast<unsigned long>(scenario.checksum()));
  }
  return 0;
}
