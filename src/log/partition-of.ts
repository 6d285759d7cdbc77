/**
 * Partition of a key: the same in every log, and the one that Kafka's own clients choose, so that a site's readings stay
 * together whoever sends them. MurmurHash2 (32 bits, public domain) of the key's UTF-8 with Kafka's seed, its sign dropped.
 */
export function partitionOf(key: string, partitions: number): number {
  return (murmur2(Buffer.from(key, "utf8")) & 0x7fffffff) % partitions;
}

/** Seed of Kafka's default partitioner. */
const SEED = 0x9747b28c;
const M = 0x5bd1e995;
const R = 24;

function murmur2(bytes: Uint8Array): number {
  const { length } = bytes;
  let h = SEED ^ length;
  let at = 0;
  for (; at + 4 <= length; at += 4) {
    let k = bytes[at]! | (bytes[at + 1]! << 8) | (bytes[at + 2]! << 16) | (bytes[at + 3]! << 24);
    k = Math.imul(k, M);
    k ^= k >>> R;
    h = Math.imul(h, M) ^ Math.imul(k, M);
  }
  const rest = length - at;
  if (rest === 3) h ^= bytes[at + 2]! << 16;
  if (rest >= 2) h ^= bytes[at + 1]! << 8;
  if (rest >= 1) h = Math.imul(h ^ bytes[at]!, M);
  h ^= h >>> 13;
  h = Math.imul(h, M);
  return h ^ (h >>> 15);
}
