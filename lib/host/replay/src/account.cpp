#include "bareglass/replay/account.hpp"

#include <algorithm>

namespace bareglass::host {

std::size_t run_of(const Account& account, std::uint64_t t_us) {
  const auto after =
      std::upper_bound(account.runs.begin(), account.runs.end(), t_us,
                       [](std::uint64_t t, const Run& run) { return t < run.zero_us; });
  return after == account.runs.begin() ? 0
                                       : static_cast<std::size_t>(after - account.runs.begin()) - 1;
}

std::uint64_t zero_time(const Account& account, std::uint64_t t_us) {
  return account.runs.empty() ? account.first_us : account.runs[run_of(account, t_us)].zero_us;
}

std::uint64_t zero_time(const Account& account) { return zero_time(account, account.last_us); }

}  // namespace bareglass::host
