import { createRequire } from "node:module";
import kafkajs, { CompressionTypes } from "kafkajs";
import { type Fetched, markAborted } from "./aborted.ts";
import { fetchAnswerOf } from "./fetch-answer.ts";
import { unpackerOf } from "./packing.ts";
import { type ProduceArguments, produceBody } from "./produce-request.ts";
import { type OffsetsAsked, STABLE_VERSION, stableOffsetsOf, stableOffsetsRequest } from "./stable-offsets.ts";

/**
 * What has to be changed inside kafkajs 2.2.4, which is frozen since 2023: each remedy here, once, with its issue number
 * (`#n` of tulios/kafkajs). `applyRemedies` is called by whoever makes a client; more than once does nothing.
 */

/** The parts of kafkajs's request queue that the remedy touches. */
interface RequestQueue {
  pending: { length: number };
  throttledUntil: number;
  throttleCheckTimeoutId: NodeJS.Timeout | null;
  checkPendingRequests(): void;
  scheduleCheckPendingRequests(): void;
}

interface ConsumerGroup {
  cluster: object;
  memberId: string | null;
  connect(): Promise<void>;
}

const inside = createRequire(import.meta.url);
let applied = false;

export function applyRemedies(): void {
  if (applied) return;
  applied = true;
  quietRequestQueue();
  committedOnly();
  writtenInOnePiece();
  rememberedCoordinators();
  rememberedMembers();
  stableOffsets();
  codecs();
}

/**
 * #1556, #1604, #1751: the queue's timer arms itself again and again with a negative delay, some 900 wake-ups a second and
 * connection, and a warning of Node's. Armed only when something waits, and for as long as the broker asked.
 */
function quietRequestQueue(): void {
  const { prototype } = inside("kafkajs/src/network/requestQueue") as { prototype: RequestQueue };
  prototype.scheduleCheckPendingRequests = function (this: RequestQueue) {
    if (this.throttleCheckTimeoutId !== null || this.pending.length === 0) return;
    const wait = Math.max(this.throttledUntil - Date.now(), 0);
    this.throttleCheckTimeoutId = setTimeout(() => {
      this.throttleCheckTimeoutId = null;
      this.checkPendingRequests();
    }, wait);
  };
}

interface FetchedPartition extends Fetched {
  highWatermark: string;
  lastStableOffset?: string;
}

interface FetchDecoded {
  responses: { partitions: FetchedPartition[] }[];
}

interface FetchMade {
  response: { decode(raw: Buffer): Promise<FetchDecoded> };
}

interface FetchRequest {
  protocol(of: { version: number }): (args: object) => FetchMade;
}

/** The newest version of a fetch that kafkajs speaks, and so what it speaks with any broker since 2.3. */
const FETCH_VERSION = 11;

/**
 * Three things about records that are fetched, each put right in the broker's answer before kafkajs's batches are made of it:
 *
 * kafkajs makes a dozen buffers, long numbers and objects of each record, most of the time of a fetch of small ones. The
 * answer is read by us (`fetch-answer.ts`), and only what is in older formats is left to kafkajs.
 *
 * A batch says how far its partition reaches by the high watermark, which counts what open transactions have written. A
 * read-committed reader that has everything there is would seem to be behind, for ever if they are aborted. The answer holds
 * the last stable offset too; kafkajs drops it [source].
 *
 * Where two producers' aborted transactions overlap, kafkajs takes up only one of them at a message and hands out what the
 * other one had written [source, and seen: `tests/log/kafka/aborted.test.ts`]. `passes` has a producer for each input
 * partition. So what was aborted is marked here.
 */
function committedOnly(): void {
  const fetch = inside("kafkajs/src/protocol/requests/fetch") as FetchRequest;
  const { protocol } = fetch;
  fetch.protocol = (of) => {
    const make = protocol(of);
    return (args) => {
      const made = make(args);
      const { response } = made;
      const decode = async (raw: Buffer) => {
        const decoded: FetchDecoded =
          (of.version === FETCH_VERSION ? fetchAnswerOf(raw, unpackerOf) : null) ?? (await response.decode(raw));
        for (const { partitions } of decoded.responses) {
          for (const partition of partitions) {
            const { lastStableOffset } = partition;
            if (lastStableOffset !== undefined && !lastStableOffset.startsWith("-")) partition.highWatermark = lastStableOffset;
            markAborted(partition);
          }
        }
        return decoded;
      };
      return { ...made, response: { ...response, decode } };
    };
  };
}

interface ProduceMade {
  request: { encode(): Promise<unknown> };
}

interface ProduceRequest {
  protocol(of: { version: number }): (args: ProduceArguments) => ProduceMade;
}

/** The first version of a request to produce that may hold batches packed with zstd, and the newest that kafkajs speaks. */
const PRODUCE_VERSION = 7;

/** kafkajs copies each record half a dozen times on its way into a request; written by us instead (`produce-request.ts`). */
function writtenInOnePiece(): void {
  const produce = inside("kafkajs/src/protocol/requests/produce") as ProduceRequest;
  const { protocol } = produce;
  produce.protocol = (of) => {
    const make = protocol(of);
    if (of.version !== PRODUCE_VERSION) return (args) => make({ ...args, compression: CompressionTypes.None });
    return (args) => {
      const made = make(args);
      const encode = async () => {
        const buffer = await produceBody(args);
        // As kafkajs's own encoder shows itself.
        return { buf: buffer, buffer };
      };
      return { ...made, request: { ...made.request, encode } };
    };
  };
}

interface Coordinated {
  findGroupCoordinatorMetadata(of: { groupId: string; coordinatorType?: number }): Promise<unknown>;
}

/** Kafka's number for the kind of coordinator that transactions have. */
const OF_TRANSACTIONS = 1;
/** A claim gives up its client at the first error, so what it knows may be old; a member must soon hear of another coordinator. */
const KNOWN_MS = { ofTransactions: 60_000, ofGroups: 1_000 };

/**
 * kafkajs asks who the coordinator is before each of a transaction's steps [source]: four of nine round trips, one after the
 * other, of every commit, and so of every warning's way. The answer is kept for a while.
 */
function rememberedCoordinators(): void {
  const { prototype } = inside("kafkajs/src/cluster") as { prototype: Coordinated };
  const find = prototype.findGroupCoordinatorMetadata;
  const known = new WeakMap<Coordinated, Map<string, { untilMs: number; answer: unknown }>>();
  prototype.findGroupCoordinatorMetadata = async function (this: Coordinated, of) {
    const answers = known.get(this) ?? new Map<string, { untilMs: number; answer: unknown }>();
    known.set(this, answers);
    const key = `${of.coordinatorType ?? 0}/${of.groupId}`;
    const kept = answers.get(key);
    if (kept !== undefined && performance.now() < kept.untilMs) return kept.answer;
    const answer = await find.call(this, of);
    const keepMs = of.coordinatorType === OF_TRANSACTIONS ? KNOWN_MS.ofTransactions : KNOWN_MS.ofGroups;
    answers.set(key, { untilMs: performance.now() + keepMs, answer });
    return answer;
  };
}

const remembered = new WeakMap<object, string>();

/** A consumer over this cluster object joins under the name that its process had before it died; see `member-name.ts`. */
export function joinAs(cluster: object, memberId: string): void {
  remembered.set(cluster, memberId);
}

/**
 * #884 (no static membership): a process that is killed and started again waits until its own former self is taken for dead.
 * Joining under the former name, the group takes it for the same member come back. Sound, since a claim's fence and not
 * the group decides who may commit. A name that the group no longer knows is replaced by kafkajs itself.
 */
function rememberedMembers(): void {
  const { prototype } = inside("kafkajs/src/consumer/consumerGroup") as { prototype: ConsumerGroup };
  const connect = prototype.connect;
  prototype.connect = async function (this: ConsumerGroup) {
    await connect.call(this);
    const name = remembered.get(this.cluster);
    if (name === undefined) return;
    remembered.delete(this.cluster);
    this.memberId ??= name;
  };
}

interface OffsetFetchRequest {
  versions: string[];
  protocol(of: { version: number }): (asked: OffsetsAsked) => { request: unknown; response: { parse: unknown } };
}

/** The newest version of asking for committed offsets that kafkajs speaks. */
const OFFSET_FETCH_VERSION = 4;

/**
 * kafkajs cannot ask for stable offsets [source]. Brokers before 4.0 make a transaction's offsets known only some time after
 * its end was answered, in a thread that also loads groups [source: GroupCoordinator.scheduleHandleTxnCompletion]: whoever
 * took a source over meanwhile was told of the position before, and what was committed was said twice. Older than 2.5 a
 * broker cannot be asked so.
 */
function stableOffsets(): void {
  const fetch = inside("kafkajs/src/protocol/requests/offsetFetch") as OffsetFetchRequest;
  const { protocol } = fetch;
  const { parse } = protocol({ version: OFFSET_FETCH_VERSION })({ groupId: "", topics: [] }).response;
  const response = { decode: async (raw: Buffer) => stableOffsetsOf(raw), parse };
  fetch.versions = [...fetch.versions, String(STABLE_VERSION)];
  fetch.protocol = ({ version }) => {
    if (version !== STABLE_VERSION) return protocol({ version: Math.min(version, OFFSET_FETCH_VERSION) });
    return (asked) => ({ request: stableOffsetsRequest(asked), response });
  };
}

/**
 * Only gzip comes with kafkajs, and a batch that it cannot unpack stops its partition for good. For what is still left to it,
 * all of Kafka's compressions can be read.
 */
function codecs(): void {
  const { CompressionCodecs } = kafkajs;
  CompressionCodecs[CompressionTypes.ZSTD] = reading(CompressionTypes.ZSTD);
  CompressionCodecs[CompressionTypes.LZ4] = reading(CompressionTypes.LZ4);
  CompressionCodecs[CompressionTypes.Snappy] = reading(CompressionTypes.Snappy);
}

function reading(type: CompressionTypes) {
  return () => ({
    compress: async () => {
      throw new Error("nothing is packed by kafkajs here");
    },
    decompress: async (bytes: Buffer) => unpackerOf(type)!(bytes),
  });
}
