import { mkdirSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import * as z from "zod";
import { inbound } from "./decode.ts";
import { RECORD_BYTES } from "./limits.ts";
import { calibration } from "./outbound/calibrations.ts";
import { pass } from "./outbound/passes.ts";
import { rejected } from "./outbound/rejected.ts";
import { siteCondition } from "./outbound/site-conditions.ts";
import { warning } from "./outbound/warnings.ts";

/**
 * The contract as documents: JSON Schema of every record and one AsyncAPI 3 document over all topics, generated from the
 * schemas and nothing else. `node src/feed/contract.ts` writes them to deploy/; a test fails when they are stale.
 */

/** Of the contract, not of the program: rises with a new optional field (minor) or a new shape (major). */
const CONTRACT_VERSION = "1.0.0";

interface TopicWords {
  key: string;
  words: string;
}

const IN: Record<keyof typeof inbound, TopicWords> = {
  "axle-readings": { key: "<site>/<track>", words: "Per-axle readings as a train passes a site." },
  "site-reports": { key: "<site>", words: "What a site says of itself: heartbeats, faults, its own alarms, functional tests." },
  consists: { key: "<train>", words: "The vehicles of a train, from the head end." },
  "desk-actions": { key: "<warning id> or <site>", words: "What people at the desk did." },
};

const OUT: Record<string, TopicWords & { schema: z.ZodType }> = {
  passes: { key: "<site>/<track>", words: "One train over one site, assembled.", schema: pass },
  warnings: { key: "<warning id>", words: "Bearings watched, warned of, or at the limit.", schema: warning },
  "site-conditions": { key: "<site>", words: "What needs attention at a site.", schema: siteCondition },
  calibrations: { key: "<site>/<track>/<rail>", words: "Learned scanner bias; read back as an input.", schema: calibration },
  rejected: { key: "<topic>", words: "Inbound records that could not be used, with the reason.", schema: rejected },
};

type Json = Record<string, unknown>;

/** File name (without folder) -> JSON Schema. */
export function schemaDocuments(): Map<string, Json> {
  const documents = new Map<string, Json>();
  for (const schemas of Object.values(inbound)) {
    for (const [type, schema] of Object.entries(schemas)) documents.set(`${type}.json`, schemaOf(schema, "input"));
  }
  for (const [topic, out] of Object.entries(OUT)) documents.set(`${topic}.json`, schemaOf(out.schema, "output"));
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
  const add = (topic: string, about: TopicWords, action: "receive" | "send", types: [string, z.ZodType][]) => {
    const names = types.map(([name]) => name);
    for (const [name, schema] of types) {
      const { $schema: _, ...payload } = schemaOf(schema, action === "receive" ? "input" : "output");
      schemas[name] = payload;
      messages[name] = messageOf(name, about, action);
    }
    channels[topic] = {
      address: topic,
      description: about.words,
      messages: Object.fromEntries(names.map((name) => [name, { $ref: `#/components/messages/${name}` }])),
    };
    operations[`${action}-${topic}`] = {
      action,
      channel: { $ref: `#/channels/${topic}` },
      messages: names.map((name) => ({ $ref: `#/channels/${topic}/messages/${name}` })),
    };
  };
  for (const [topic, schemas] of Object.entries(inbound)) {
    add(topic, IN[topic as keyof typeof inbound], "receive", Object.entries(schemas as Record<string, z.ZodType>));
  }
  for (const [topic, out] of Object.entries(OUT)) add(topic, out, "send", [[topic, out.schema]]);
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

function messageOf(name: string, about: TopicWords, action: "receive" | "send"): Json {
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
