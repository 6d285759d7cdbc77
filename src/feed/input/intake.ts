import { type Log, type NewRecord, OverloadedError } from "../../log/log.ts";
import type { FeedMetrics } from "../../telemetry/metrics.ts";
import { decode, inbound } from "../decode.ts";
import { MADE_ID_CHARS, RECORD_BYTES } from "../limits.ts";
import type { Rejected, Topic } from "../record.ts";
import { type Refusal, refusal, reject } from "../reject.ts";
import { digestOf, Identities, identityOf } from "./identities.ts";
import { type Offer, openedOffer } from "./offer.ts";
import { keyOf } from "./record-key.ts";

/**
 * What became of an offered record. `accepted`: in the log. `repeated`: it was there already. `refused`: cannot be used;
 * it is, or will be, on the topic `rejected`, raw. `own`: a tick, a line or a pass, which only the processor itself makes; a
 * recorded day holds them, and they are passed over.
 */
export type Fate = "accepted" | "repeated" | "refused" | "own";

export interface Answer {
  line: number;
  fate: Fate;
  /** Why it was refused. */
  why: Refusal | null;
}

/** Who offers, and what they may send. */
export interface Sender {
  /** For whoever looks a refused record up: `feed-http`, `feed-file/<name>`. */
  name: string;
  topics: ReadonlySet<string>;
}

/** Records remembered to tell repeats: with 100 bytes each, 25 MB at most. */
export const REMEMBERED_RECORDS = 100_000;
/** Bytes of records on their way into the log. Past it, what is offered is turned away until some are durable. */
export const MOST_WAITING_BYTES = 16 * 1024 * 1024;
/** At once into the log. */
export const APPEND_RECORDS = 1_000;
export const APPEND_BYTES = 512 * 1024;

const TOPICS_IN: ReadonlySet<string> = new Set(Object.keys(inbound));
/** What a site's sender needs; acting at the desk is another right. */
export const SITE_TOPICS: readonly Topic[] = ["axle-readings", "site-reports", "consists"];
const REJECTED = "rejected";

interface Judged {
  answer: Answer;
  /** null: nothing is to be written. */
  record: NewRecord | null;
  /** null: written however often it comes. */
  identity: string | null;
}

/**
 * The one way of records from outside into the log. Every record offered has an answer, and an answer means that all it
 * stands for is durable. Throws what `Log.append` throws; then nobody can tell how much was taken, and the sender sends
 * all of it again.
 */
export class Intake {
  readonly #log: Log;
  readonly #identities: Identities;
  readonly #mostWaiting: number;
  #waitingBytes = 0;

  constructor(log: Log, { remembered = REMEMBERED_RECORDS, mostWaitingBytes = MOST_WAITING_BYTES } = {}) {
    this.#log = log;
    this.#identities = new Identities(remembered);
    this.#mostWaiting = mostWaitingBytes;
  }

  /** Bytes on their way into the log. */
  get waitingBytes(): number {
    return this.#waitingBytes;
  }

  /** @throws OverloadedError when too much is waiting: nothing was taken */
  async take(offers: readonly Offer[], sender: Sender, metrics: FeedMetrics | null = null): Promise<Answer[]> {
    let bytes = 0;
    for (const offer of offers) bytes += offer.value.length;
    if (this.#waitingBytes > 0 && this.#waitingBytes + bytes > this.#mostWaiting) {
      metrics?.overloaded.add(offers.length);
      throw new OverloadedError(`${this.#waitingBytes} bytes are waiting for the log; ${this.#mostWaiting} may`);
    }
    this.#waitingBytes += bytes;
    const begun = performance.now();
    try {
      const answers = await this.#takeAll(offers, sender);
      if (metrics !== null) count(answers, bytes, begun, metrics);
      return answers;
    } catch (error) {
      if (error instanceof OverloadedError) metrics?.overloaded.add(offers.length);
      throw error;
    } finally {
      this.#waitingBytes -= bytes;
    }
  }

  async #takeAll(offers: readonly Offer[], sender: Sender): Promise<Answer[]> {
    const { promise: durable, resolve, reject: fail } = Promise.withResolvers<void>();
    // Whoever waits for it says so; without a handler before that, a failure would end the process.
    durable.catch(() => {});
    const answers: Answer[] = [];
    const records: NewRecord[] = [];
    const identities: string[] = [];
    const others = new Set<Promise<void>>();
    for (const offer of offers) {
      const { answer, record, identity } = judge(offer, sender);
      answers.push(answer);
      if (record === null) continue;
      if (identity === null) {
        records.push(record);
        continue;
      }
      const known = this.#identities.find(identity);
      if (known === undefined) {
        this.#identities.begin(identity, durable);
        identities.push(identity);
        records.push(record);
        continue;
      }
      answer.fate = "repeated";
      if (known !== null && known !== durable) others.add(known);
    }
    try {
      for (const part of partsOf(records)) await this.#log.append(compacted(part));
    } catch (error) {
      for (const identity of identities) this.#identities.forget(identity);
      fail(error);
      throw error;
    }
    for (const identity of identities) this.#identities.settle(identity);
    resolve();
    // A repeat is answered when the first of it is durable, and not before.
    await Promise.all(others);
    return answers;
  }
}

/** What is to be written for an offer, and what is answered once it is. */
function judge(offer: Offer, sender: Sender): Judged {
  const { line, topic, value } = offer;
  if (offer.refused !== null) return refuse(offer, sender, offer.refused);
  if (topic === "passes") return { answer: { line, fate: "own", why: null }, record: null, identity: null };
  if (!TOPICS_IN.has(topic)) {
    return offer.whole === null ? refuse(offer, sender, refusal("FEED-005 unknown-topic")) : judge(openedOffer(offer.whole, line), sender);
  }
  if (!sender.topics.has(topic)) return refuse(offer, sender, notPermitted(sender));
  const decoded = decode(topic, value, { topic, partition: 0, offset: line });
  if (decoded.rejected !== undefined) {
    // What was cut out is no JSON: the envelope may go on behind the value.
    if (decoded.rejected.reason === "FEED-002 not-json" && offer.whole !== null) return judge(openedOffer(offer.whole, line), sender);
    return refuseRecord(offer, sender, decoded.rejected);
  }
  const key = keyOf(decoded.record);
  if (key === null) return { answer: { line, fate: "own", why: null }, record: null, identity: null };
  return {
    answer: { line, fate: "accepted", why: null },
    record: { topic, key, value, headers: offer.headers },
    identity: identityOf(topic, value),
  };
}

/**
 * A record of a known topic that cannot be used goes into its topic as it came: `assemble` refuses it there, and the count
 * of records read and refused stays true. Only what no message may be as large as goes to `rejected` at once.
 */
function refuseRecord(offer: Offer, sender: Sender, rejected: Rejected): Judged {
  const { reason, path, expected, advice } = rejected;
  const why = { reason, path, expected, advice };
  if (offer.value.length > RECORD_BYTES || offer.value.length === 0) return refuse(offer, sender, why);
  const key = offer.key === "" || offer.key.length > MADE_ID_CHARS ? sender.name : offer.key;
  return {
    answer: { line: offer.line, fate: "refused", why },
    record: { topic: offer.topic, key, value: offer.value, headers: offer.headers },
    identity: null,
  };
}

/** Refusals of the topic itself: what the record was sent as stands nowhere else. */
const BELONGS_NOWHERE = new Set(["FEED-005 unknown-topic", "FEED-018 not-permitted"]);

/** What belongs to no topic, or may not go there, is written to `rejected` from here; its id follows from what it says. */
function refuse(offer: Offer, sender: Sender, why: Refusal): Judged {
  const origin = { topic: sender.name, partition: 0, offset: offer.line };
  const rejected: Rejected = {
    ...reject(why, BELONGS_NOWHERE.has(why.reason) ? envelopeOf(offer) : offer.value, origin),
    id: `${sender.name}@${digestOf(offer.value)}`,
    rawBytes: offer.bytes,
  };
  return {
    answer: { line: offer.line, fate: "refused", why },
    record: { topic: REJECTED, key: sender.name, value: JSON.stringify(rejected) },
    identity: null,
  };
}

/** The record with the topic and the key it was sent with; the value as it came, be it JSON or not. */
function envelopeOf({ topic, key, value }: Offer): Buffer {
  return Buffer.concat([Buffer.from(`{"topic":${JSON.stringify(topic)},"key":${JSON.stringify(key)},"value":`), value, Buffer.from("}")]);
}

function notPermitted(sender: Sender): Refusal {
  return {
    reason: "FEED-018 not-permitted",
    path: "topic",
    expected: [...sender.topics].join(" | "),
    advice: "Give the sender the topic in the configuration, or have somebody else send it.",
  };
}

/** The records in parts of what the log takes at once. */
function* partsOf(records: readonly NewRecord[]): Generator<NewRecord[]> {
  let from = 0;
  let bytes = 0;
  for (const [i, { value }] of records.entries()) {
    if (i > from && (i - from === APPEND_RECORDS || bytes + value.length > APPEND_BYTES)) {
      yield records.slice(from, i);
      from = i;
      bytes = 0;
    }
    bytes += value.length;
  }
  if (from < records.length) yield records.slice(from);
}

/**
 * The same records with their bytes in one piece of memory of their own. Whoever keeps one of them must not keep the whole
 * request for it, and a log that hands records to a thread would copy the request once for every part.
 */
function compacted(records: readonly NewRecord[]): NewRecord[] {
  let size = 0;
  for (const { value } of records) if (typeof value !== "string") size += value.length;
  const bytes = new Uint8Array(size);
  let at = 0;
  return records.map((record) => {
    const { value } = record;
    if (typeof value === "string") return record;
    bytes.set(value, at);
    at += value.length;
    return { ...record, value: bytes.subarray(at - value.length, at) };
  });
}

function count(answers: readonly Answer[], bytes: number, begun: number, metrics: FeedMetrics): void {
  let refused = 0;
  for (const { fate } of answers) if (fate === "refused") refused++;
  metrics.accepted.add(answers.length - refused);
  metrics.refused.add(refused);
  metrics.bytes.add(bytes);
  metrics.append.observe((performance.now() - begun) / 1_000);
}
