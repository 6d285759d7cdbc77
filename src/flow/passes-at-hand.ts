import type { Pass } from "../pass/pass.ts";

/** Text of passes that are at hand, in bytes; their columns take half as much again. Beyond it the oldest are parsed like any other. */
export const MOST_AT_HAND_BYTES = 12 * 1024 * 1024;

/** What a published pass begins with; its id follows. */
const BEGINNING = Buffer.from('{"id":"');
const QUOTE = 34;
/** Longer ids are not looked for. */
const ID_BYTES = 256;

interface AtHand {
  pass: Pass;
  json: Buffer;
  /** Corridors that have not read it yet. */
  readers: number;
}

/**
 * Passes that this process assembled and published, for the stage that follows them in the same process: what is read from
 * the log and is the same text, byte for byte, need not be parsed. Who reads still goes by the log alone: a pass that was
 * not committed is never asked for, and of what is not at hand only the parsing is missing.
 */
export class PassesAtHand {
  private readonly passes = new Map<string, AtHand>();
  private bytes = 0;

  /** `json`: the text that is published; nobody may change it. `readers`: how many will read it. */
  put(pass: Pass, json: Buffer, readers: number): void {
    if (json.length > MOST_AT_HAND_BYTES) return;
    this.drop(pass.id);
    this.passes.set(pass.id, { pass: asPublished(pass), json, readers });
    this.bytes += json.length;
    for (const id of this.passes.keys()) {
      if (this.bytes <= MOST_AT_HAND_BYTES) break;
      this.drop(id);
    }
  }

  /** The pass that this text is; null when it is not at hand. */
  take(value: Uint8Array): Pass | null {
    const id = idOf(value);
    const found = id === null ? undefined : this.passes.get(id);
    if (found === undefined || !found.json.equals(value)) return null;
    found.readers--;
    if (found.readers === 0) this.drop(found.pass.id);
    return found.pass;
  }

  private drop(id: string): void {
    const found = this.passes.get(id);
    if (found === undefined) return;
    this.passes.delete(id);
    this.bytes -= found.json.length;
  }
}

function idOf(value: Uint8Array): string | null {
  for (let i = 0; i < BEGINNING.length; i++) if (value[i] !== BEGINNING[i]) return null;
  const end = value.indexOf(QUOTE, BEGINNING.length);
  if (end < 0 || end > BEGINNING.length + ID_BYTES) return null;
  return Buffer.from(value.buffer, value.byteOffset + BEGINNING.length, end - BEGINNING.length).toString("latin1");
}

/** Exactly what parsing its text gives: late is only who reads it, and tags come by row. */
function asPublished(pass: Pass): Pass {
  const { lateMs: _, ...published } = pass;
  if (pass.tags.size > 1) published.tags = new Map([...pass.tags].sort((a, b) => a[0] - b[0]));
  return published;
}
