#include "packet_fields.hpp"

#include "bareglass/plain/utf8.hpp"

namespace bareglass::host {

namespace {

constexpr std::uint64_t kSimpleFalse = 20;
constexpr std::uint64_t kSimpleTrue = 21;

unsigned bits_in(KeySet set) {
  unsigned n = 0;
  for (; set != 0; set &= set - 1) ++n;
  return n;
}

}  // namespace

bool PacketFields::parse_value(CborCursor& at, Field& field) {
  field.tag = 0;
  if (!at.head(field.head)) return false;
  if (field.head.type == CborType::tag) {
    field.tag = field.head.value < 0xFFFFFFFFu ? static_cast<unsigned>(field.head.value) : 0u;
    if (!at.head(field.head)) return false;
  }
  field.content = at.at();
  if (!at.skip_content(field.head)) return false;
  field.size = static_cast<std::size_t>(at.at() - field.content);
  return true;
}

bool PacketFields::parse(const std::uint8_t* body, std::size_t size) {
  CborCursor at(body, size);
  CborHead map;
  if (!at.head(map) || map.type != CborType::map) return false;
  for (std::uint64_t i = 0; i < map.value; ++i) {
    CborHead key;
    if (!at.head(key) || key.type != CborType::unsigned_integer) return false;
    Field skipped;
    const bool known = key.value < kPacketKeys;
    const KeySet bit = known ? KeySet{1} << key.value : 0;
    if ((present_ & bit) != 0) return false;
    if (!parse_value(at, known ? fields_[static_cast<std::size_t>(key.value)] : skipped))
      return false;
    present_ |= bit;
    unknown_ += known ? 0 : 1;
  }
  return at.left() == 0;
}

unsigned PacketFields::count_unused(KeySet used) const {
  return unknown_ + bits_in(present_ & ~used);
}

const PacketFields::Field* PacketFields::field(PacketKey key, CborType type, const char* expected) {
  const Field& found = fields_[static_cast<std::size_t>(key)];
  if (has(key) && found.head.type == type) return &found;
  set_wrong(expected);
  return nullptr;
}

std::uint64_t PacketFields::number(PacketKey key, std::uint64_t most, const char* expected) {
  const Field* found = field(key, CborType::unsigned_integer, expected);
  if (found == nullptr) return 0;
  if (found->head.value <= most) return found->head.value;
  set_wrong(expected);
  return 0;
}

std::int64_t PacketFields::signed_number(PacketKey key, std::int64_t least, std::int64_t most,
                                         const char* expected) {
  const Field& found = fields_[static_cast<std::size_t>(key)];
  const bool number = has(key) && (found.head.type == CborType::unsigned_integer ||
                                   found.head.type == CborType::negative_integer);
  if (number && found.head.value <= INT64_MAX) {
    const auto magnitude = static_cast<std::int64_t>(found.head.value);
    const std::int64_t value =
        found.head.type == CborType::negative_integer ? -1 - magnitude : magnitude;
    if (value >= least && value <= most) return value;
  }
  set_wrong(expected);
  return 0;
}

bool PacketFields::flag(PacketKey key, const char* expected) {
  const Field* found = field(key, CborType::simple, expected);
  if (found == nullptr) return false;
  if (found->head.value != kSimpleFalse && found->head.value != kSimpleTrue) set_wrong(expected);
  return found->head.value == kSimpleTrue;
}

void PacketFields::text(std::string& out, PacketKey key, const char* expected) {
  const Field* found = field(key, CborType::text, expected);
  if (found == nullptr) return;
  if (found->size > kMaxPacketText || !plain::is_utf8(found->content, found->size)) {
    set_wrong(expected);
    return;
  }
  out.assign(found->content, found->content + found->size);
}

const std::uint8_t* PacketFields::typed_array(PacketKey key, unsigned tag, std::size_t bytes,
                                              const char* expected) {
  const Field* found = field(key, CborType::bytes, expected);
  if (found == nullptr) return nullptr;
  if (found->tag == tag && found->size == bytes) return found->content;
  set_wrong(expected);
  return nullptr;
}

CborCursor PacketFields::array(PacketKey key, std::uint64_t& count, const char* expected) {
  const Field* found = field(key, CborType::array, expected);
  count = found != nullptr ? found->head.value : 0;
  return found != nullptr ? CborCursor(found->content, found->size) : CborCursor(nullptr, 0);
}

}  // namespace bareglass::host
