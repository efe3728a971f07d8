// make_fixtures FOLDER: writes every fixture dump anew. Seeds are fixed, so the same bytes come
// out.
#include <exception>
#include <iostream>

#include "support/fixture_scripts.hpp"

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: make_fixtures FOLDER\n";
    return 2;
  }
  try {
    for (const std::string& name : bareglass::support::write_fixtures(argv[1]))
      std::cout << name << '\n';
    return std::cout.flush() ? 0 : 4;
  } catch (const std::exception& e) {
    std::cerr << "make_fixtures: " << e.what() << '\n';
    return 4;
  }
}
