/** Damage as lines and senders do it, from a seed: the same seed damages the same way. */
export class Damage {
  private state: number;

  constructor(seed: number) {
    this.state = seed >>> 0;
  }

  /** 0 .. n-1 (mulberry32). */
  below(n: number): number {
    this.state = (this.state + 0x6d2b79f5) >>> 0;
    let t = this.state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return Math.floor((((t ^ (t >>> 14)) >>> 0) / 4294967296) * n);
  }

  /** A few bytes flipped, put in, taken out or cut off; sometimes two records run together. */
  bytes(source: Buffer): Buffer {
    let bytes: Buffer = Buffer.from(source);
    for (let times = 1 + this.below(3); times > 0; times--) bytes = this.oneOfBytes(bytes);
    return bytes;
  }

  private oneOfBytes(bytes: Buffer): Buffer {
    const at = this.below(bytes.length);
    switch (this.below(6)) {
      case 0:
        if (bytes.length > 0) bytes[at] = bytes[at]! ^ (1 << this.below(8));
        return bytes;
      case 1:
        if (bytes.length > 0) bytes[at] = SPICE.charCodeAt(this.below(SPICE.length));
        return bytes;
      case 2:
        return bytes.subarray(0, at);
      case 3:
        return Buffer.concat([bytes.subarray(0, at), bytes.subarray(at + 1 + this.below(8))]);
      case 4:
        return Buffer.concat([bytes.subarray(0, at), Buffer.from([this.below(256)]), bytes.subarray(at)]);
      default:
        return Buffer.concat([bytes.subarray(0, at), bytes.subarray(this.below(bytes.length + 1))]);
    }
  }

  /** One value somewhere in the record replaced, left out, doubled or added. */
  structure(source: object): unknown {
    const record = structuredClone(source) as Record<string, unknown>;
    let here: Record<string, unknown> = record;
    for (;;) {
      const keys = Object.keys(here);
      if (keys.length === 0) return record;
      const key = keys[this.below(keys.length)]!;
      const inner = here[key];
      if (typeof inner === "object" && inner !== null && this.below(4) > 0) {
        here = inner as Record<string, unknown>;
        continue;
      }
      this.change(here, key);
      return record;
    }
  }

  private change(here: Record<string, unknown>, key: string): void {
    const how = this.below(4);
    if (how === 0) here[key] = ODD[this.below(ODD.length)];
    else if (how === 1) delete here[key];
    else if (how === 2) here[key + "x"] = here[key];
    else here[key] = [here[key], here[key]];
  }
}

/** Bytes that mean something in JSON. */
const SPICE = '{}[]":,.-+eE0123456789nulltruefals\\ \n\r\t\u0000';

const ODD: unknown[] = [
  null,
  true,
  "",
  "x",
  "1e999",
  -1,
  0,
  1e300,
  -1e-300,
  2000.5,
  [],
  {},
  [[]],
  { type: "axles" },
  "2026-02-30T00:00:00Z",
];
