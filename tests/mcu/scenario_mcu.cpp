// Tells the story on the microcontroller; prints one line a part, as scenario_host.cpp does.
#include "mcu/scenario.hpp"
#include "mcu/semihosting.hpp"

int image_main();  // called by startup.cpp
int image_main() {
  using bareglass::mcu::print;
  static bareglass::test::Scenario scenario;
  for (const bareglass::test::Scenario::Part& part : bareglass::test::kStory) {
    scenario.run(part, [](auto step) { step(); });
    print(part.name);
    print(": ");
    print(bareglass::name_of(scenario.engine().state()));
    print(", checksum ");
    print(scenario.checksum());
    print("\n");
  }
  return 0;
}
