#include "cbor_cursor.hpp"

namespace bareglass::host {

namespace {

/// Items directly inside one of that head: every item takes at least a byte.
std::uint64_t items_inside(const CborHead& head) {
  if (head.type == CborType::array) return head.value;
  if (head.type == CborType::map) return 2 * head.value;
  return head.type == CborType::tag ? 1 : 0;
}

bool is_string(CborType type) { return type == CborType::bytes || type == CborType::text; }

}  // namespace

bool CborCursor::head(CborHead& out) {
  if (at_ == end_) return false;
  const unsigned first = *at_++;
  const unsigned info = first & 31u;
  out.type = static_cast<CborType>(first >> 5);
  if (info < 24) {
    out.value = info;
  } else {
    if (info > 27) return false;
    const std::size_t width = std::size_t{1} << (info - 24);
    if (width > left()) return false;
    out.value = 0;
    for (std::size_t i = 0; i < width; ++i) out.value = out.value << 8 | *at_++;
  }
  if (is_string(out.type)) return out.value <= left();
  // The first test keeps 2 * value from wrapping.
  return out.type < CborType::array || out.type == CborType::simple || out.type == CborType::tag ||
         (out.value <= left() && items_inside(out) <= left());
}

bool CborCursor::skip_content(const CborHead& head_read) {
  // One number replaces a stack: how many items are still to come at any depth. It stays below the
  // square of the body's size and so can't wrap.
  std::uint64_t to_come = items_inside(head_read);
  if (is_string(head_read.type)) step(head_read.value);
  while (to_come > 0) {
    CborHead inner;
    if (!head(inner)) return false;
    if (is_string(inner.type)) step(inner.value);
    to_come += items_inside(inner);
    --to_come;
  }
  return true;
}

}  // namespace bareglass::host
