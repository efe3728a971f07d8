#include "earthed_contact.hpp"

#include <algorithm>
#include <cmath>

namespace bareglass::host {

namespace {

// Computed with the simulated panel on 0.7, 1.1, 2.0 and 3.0 mm of glass, thickest first
// (tests/host/infer/earthed_contact_test.cpp does it anew). A dump does not tell its glass, but how
// much of the bare reading the nominal finger takes does: the thinner, the more.
//
// Volume over slope * (width - narrowest) of earthed discs of 6 to 13 mm at all offsets from the
// lines is at least 0.95, 0.94, 0.87 and 0.85; on devices with up to 4.5 pF to earth at most 0.79,
// 0.76, 0.70 and 0.63.
//
// `spreads` are least squares over earthed discs from 2 mm on. They leave at most 0.007, 0.009,
// 0.022 and 0.029; discs of 6.5 to 11 mm on 4.5 pF or less lie 0.042, 0.046, 0.040 and 0.034 or
// more above them, and reach a volume of 4.7, 3.5, 2.4 and 1.7.
constexpr std::array<EarthedProfile, 4> kProfiles = {
    {{0.0674,
      1.044,
      9.86,
      0.87,
      5.1,
      {1.0248, 0.0397, 0.0041, -0.0479, 0.0158, -0.0011, -0.0221, 0.0066, -0.0007, -0.0044, 0.0008,
       -0.0025, 0.0002},
      0.009},
     {0.1024,
      0.665,
      7.59,
      0.85,
      3.9,
      {0.7049, 0.0664, 0.0067, -0.0887, 0.0389, -0.0025, -0.0422, 0.0196, -0.0021, -0.0096, 0.0029,
       -0.0029, 0.0006},
      0.012},
     {0.1556,
      0.386,
      6.58,
      0.79,
      2.7,
      {0.4708, 0.0571, 0.0180, -0.1285, 0.0535, 0.0019, -0.0780, 0.0382, -0.0020, -0.0261, 0.0118,
       -0.0083, 0.0036},
      0.025},
     {0.1862,
      0.282,
      6.12,
      0.75,
      1.9,
      {0.4275, 0.0029, 0.0382, -0.1228, 0.0134, 0.0225, -0.0988, 0.0446, 0.0001, -0.0384, 0.0205,
       -0.0169, 0.0087},
      0.031}}};
// Nothing takes more of a node: full grounded cover on the thinnest glass, and some room.
constexpr double kMostShare = 0.21;
// An earthed disc of 6 mm is this much wider than `narrowest`; what is narrower is held against
// one. What is narrower than `narrowest` is no contact, but what others leave of one; what is wider
// than kMostAbove is flat.
constexpr double kLeastAbove = 0.28;
constexpr double kMostAbove = 1.25;
// From 1.1 mm of glass on a fingertip of up to 11 mm on 1 pF raises no node by more than 0.28 of
// what it lowers others by; drops without a way to earth raise them by half and more. Between the
// two glasses' shares.
constexpr double kThinGlass = 0.17;

// Standard errors: a healthy panel sees thousands of small touches.
constexpr double kSurelyEarthed = 3.0;

constexpr double kTurn = 6.283185307179586;

}  // namespace

bool EarthedProfile::allows_two_signs() const { return share > kThinGlass; }

double EarthedProfile::ratio_of(const ContactProfile& contact) const {
  if (contact.two_signs) return allows_two_signs() ? 0 : -1;
  const double above = contact.width - narrowest;
  if (!contact.has_width || above < 0 || above > kMostAbove) return -1;
  return contact.volume / (slope * std::max(above, kLeastAbove));
}

double EarthedProfile::spread_of(double volume, double x, double y) const {
  // Lines every pitch make a pattern of one pitch and its overtone, which fades as the contact
  // spreads over more of them.
  const double across = std::cos(kTurn * x);
  const double along = std::cos(kTurn * y);
  const std::array<double, 13> terms = {1,
                                        volume,
                                        volume * volume,
                                        across,
                                        across * volume,
                                        across * volume * volume,
                                        along,
                                        along * volume,
                                        along * volume * volume,
                                        std::cos(2 * kTurn * x),
                                        std::cos(2 * kTurn * x) * volume,
                                        std::cos(2 * kTurn * y),
                                        std::cos(2 * kTurn * y) * volume};
  double spread = 0;
  for (std::size_t k = 0; k < terms.size(); ++k) spread += spreads[k] * terms[k];
  return spread;
}

bool EarthedProfile::is_too_wide(const ContactProfile& contact, double noise) const {
  if (contact.two_signs) return allows_two_signs();
  if (!contact.has_width || contact.volume > greatest_volume) return false;
  const double usual = spread_of(contact.volume, contact.x, contact.y);
  return contact.spread - usual > widest + kSurelyEarthed * noise * contact.spread_per_noise;
}

EarthedProfile earthed_profile(double share) {
  if (share > kMostShare) return {};
  if (share <= kProfiles.front().share) return kProfiles.front();
  for (std::size_t k = 1; k < kProfiles.size(); ++k) {
    const EarthedProfile& a = kProfiles[k - 1];
    const EarthedProfile& b = kProfiles[k];
    if (share > b.share) continue;
    const double part = (share - a.share) / (b.share - a.share);
    const auto between = [&](double p, double q) { return p + part * (q - p); };
    EarthedProfile out = {share, between(a.narrowest, b.narrowest), between(a.slope, b.slope),
                          between(a.limit, b.limit), between(a.greatest_volume, b.greatest_volume)};
    for (std::size_t n = 0; n < out.spreads.size(); ++n)
      out.spreads[n] = between(a.spreads[n], b.spreads[n]);
    out.widest = between(a.widest, b.widest);
    return out;
  }
  return kProfiles.back();
}

}  // namespace bareglass::host
