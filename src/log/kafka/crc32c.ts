/** CRC-32C (Castagnoli), the checksum of Kafka's record batches: RFC 3720, appendix B.4; bits of each byte in reverse. */
const REVERSED_POLYNOMIAL = 0x82f63b78;

/** Bytes that are looked up at once. */
const AT_ONCE = 8;

/** Tables for the bytes at a time, 256 entries each: the k-th is for a byte that k more follow. */
const TABLES: Int32Array = tables();

/** As an unsigned number. */
export function crc32c(bytes: Uint8Array, from = 0, to: number = bytes.length): number {
  let crc = -1;
  let at = from;
  const T = TABLES;
  for (const last = to - AT_ONCE; at <= last; at += AT_ONCE) {
    const low = crc ^ (bytes[at]! | (bytes[at + 1]! << 8) | (bytes[at + 2]! << 16) | (bytes[at + 3]! << 24));
    crc =
      T[1792 + (low & 255)]! ^
      T[1536 + ((low >>> 8) & 255)]! ^
      T[1280 + ((low >>> 16) & 255)]! ^
      T[1024 + (low >>> 24)]! ^
      T[768 + bytes[at + 4]!]! ^
      T[512 + bytes[at + 5]!]! ^
      T[256 + bytes[at + 6]!]! ^
      T[bytes[at + 7]!]!;
  }
  for (; at < to; at++) crc = T[(crc ^ bytes[at]!) & 255]! ^ (crc >>> 8);
  return ~crc >>> 0;
}

function tables(): Int32Array {
  const all = new Int32Array(AT_ONCE * 256);
  for (let byte = 0; byte < 256; byte++) {
    let crc = byte;
    for (let bit = 0; bit < 8; bit++) crc = (crc & 1) === 0 ? crc >>> 1 : (crc >>> 1) ^ REVERSED_POLYNOMIAL;
    all[byte] = crc;
  }
  for (let at = 256; at < all.length; at++) {
    const before = all[at - 256]!;
    all[at] = all[before & 255]! ^ (before >>> 8);
  }
  return all;
}
