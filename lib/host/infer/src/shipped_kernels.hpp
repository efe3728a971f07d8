#pragma once
// The files of data/, compiled in.

namespace bareglass::infer {

struct ShippedKernels {
  const char* name;
  const char* text;
};
extern const ShippedKernels kShippedKernels[];
extern const int kShippedKernelCount;

}  // namespace bareglass::infer
