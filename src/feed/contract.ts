import { mkdirSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import * as z from "zod";
import { REPLICAS, TOPICS, type TopicDefinition } from "../log/topics.ts";
import { RECORD_BYTES } from "./limits.ts";

/**
 * The contract as documents: JSON Schema of every record and one AsyncAPI 3 document over all topics, generated from the
 * schemas and nothing else. `node src/feed/contract.ts` writes them to deploy/; a test fails when they are stale.
 */

/** Of the contract, not of the program: rises with a new optional field (minor) or a new shape (major). */
const CONTRACT_VERSION = "1.0.0";

type Json = Record<string, unknown>;

/** File name (without folder) -> JSON Schema. */
export function schemaDocuments(): Map<string, Json> {
  const documents = new Map<string, Json>();
  for (const { flow, records } of TOPICS) {
    for (const [type, schema] of Object.entries(records))
      documents.set(`${type}.json`, schemaOf(schema, flow === "in" ? "input" : "output"));
  }
  return documents;
}

function schemaOf(schema: z.ZodType, io: "input" | "output"): Json {
  return z.toJSONSchema(schema, { target: "draft-2020-12", io }) as Json;
}

/** The AsyncAPI 3.0 document. */
export function asyncApi(): Json {
  const channels: Json = {};
  const operations: Json = {};
  const messages: Json = {};
  const schemas: Json = {};
  const add = (about: TopicDefinition) => {
    const topic = about.name;
    const action = about.flow === "in" ? "receive" : "send";
    const names = Object.keys(about.records);
    for (const [name, schema] of Object.entries(about.records)) {
      const { $schema: _, ...payload } = schemaOf(schema, action === "receive" ? "input" : "output");
      schemas[name] = payload;
      messages[name] = messageOf(name, about, action);
    }
    channels[topic] = {
      address: topic,
      description: about.words,
      messages: Object.fromEntries(names.map((name) => [name, { $ref: `#/components/messages/${name}` }])),
      bindings: { kafka: channelBinding(about) },
    };
    operations[`${action}-${topic}`] = {
      action,
      channel: { $ref: `#/channels/${topic}` },
      messages: names.map((name) => ({ $ref: `#/channels/${topic}/messages/${name}` })),
    };
  };
  for (const topic of TOPICS) if (Object.keys(topic.records).length > 0) add(topic);
  return {
    asyncapi: "3.0.0",
    info: {
      title: "bearing-rise",
      version: CONTRACT_VERSION,
      description:
        "Records in and out. Advice only: the site's own alarm, the operating rules and qualified people govern. " +
        `A record is one JSON object of at most ${RECORD_BYTES} bytes, in UTF-8. Unknown fields are left out and counted, never an error. ` +
        "Columns of a record of axles have equal length; null = not measured.",
      license: { name: "Apache-2.0" },
    },
    defaultContentType: "application/json",
    channels,
    operations,
    components: { messages, schemas },
  };
}

/** A topic's settings as AsyncAPI's Kafka binding names them. */
function channelBinding({ partitions, retentionMs, minInsyncReplicas }: TopicDefinition): Json {
  return {
    partitions,
    replicas: REPLICAS,
    topicConfiguration: { "cleanup.policy": ["delete"], "retention.ms": retentionMs },
    "x-min-insync-replicas": minInsyncReplicas,
  };
}

function messageOf(name: string, about: TopicDefinition, action: "receive" | "send"): Json {
  const cloudEvents: Json = {
    type: "object",
    properties: {
      ce_id: { type: "string", description: "The deterministic id." },
      ce_time: { type: "string", description: "Event time." },
      ce_source: { type: "string" },
      ce_type: { type: "string" },
      ce_specversion: { const: "1.0" },
    },
  };
  return {
    name,
    contentType: "application/json",
    payload: { $ref: `#/components/schemas/${name}` },
    ...(action === "send" ? { headers: cloudEvents } : {}),
    bindings: { kafka: { key: { type: "string", description: about.key } } },
  };
}

/** Text of a document as it is committed. */
export function documentText(document: Json): string {
  return JSON.stringify(document, null, 2) + "\n";
}

/** Path below deploy/ -> text: everything that the contract consists of. */
export function contractFiles(): Map<string, string> {
  const files = new Map<string, string>([["asyncapi.json", documentText(asyncApi())]]);
  for (const [name, document] of schemaDocuments()) files.set(`schema/${name}`, documentText(document));
  return files;
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  const deploy = new URL("../../deploy/", import.meta.url);
  mkdirSync(new URL("schema/", deploy), { recursive: true });
  for (const [name, text] of contractFiles()) writeFileSync(new URL(name, deploy), text);
}
