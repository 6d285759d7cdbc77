import type { IHeaders, KafkaMessage } from "kafkajs";
import type { LogRecord } from "../log.ts";
import { FetchedRecord } from "./fetched-record.ts";

const NO_HEADERS: Readonly<Record<string, string>> = Object.freeze({});
const EMPTY = Buffer.alloc(0);

/** A record off Kafka. Key and headers are made into text only for whoever asks: most readers want the value alone. */
export class KafkaRecord implements LogRecord {
  readonly topic: string;
  readonly partition: number;
  readonly offset: number;
  readonly value: Uint8Array;
  private readonly message: KafkaMessage;

  constructor(topic: string, partition: number, offset: number, message: KafkaMessage) {
    this.topic = topic;
    this.partition = partition;
    this.offset = offset;
    // A record without a value is nobody's here; as an empty one it is refused with its place like any other bad record.
    this.value = message.value ?? EMPTY;
    this.message = message;
  }

  get key(): string | null {
    const { key } = this.message;
    return key === null || key === undefined ? null : key.toString("utf8");
  }

  get headers(): Readonly<Record<string, string>> {
    return headersOf(this.message.headers);
  }

  get arrivedMs(): number {
    const { message } = this;
    return message instanceof FetchedRecord ? message.arrivedMs : Number(message.timestamp);
  }
}

export function offsetOf(message: KafkaMessage): number {
  return message instanceof FetchedRecord ? message.at : Number(message.offset);
}

function headersOf(headers: IHeaders | undefined): Readonly<Record<string, string>> {
  if (headers === undefined) return NO_HEADERS;
  const names = Object.keys(headers);
  if (names.length === 0) return NO_HEADERS;
  return Object.fromEntries(names.map((name) => [name, textOf(headers[name])]));
}

/** Of a header given twice the last one counts. */
function textOf(value: IHeaders[string]): string {
  const last = Array.isArray(value) ? value.at(-1) : value;
  return last === undefined ? "" : last.toString();
}
