import { mkdirSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import * as z from "zod";
import { problem } from "../views/act-shape.ts";
import { ROUTES, type Route } from "./routes.ts";

/** The desk's API as an OpenAPI 3.1 document, from the routes' schemas and nothing else. `node src/desk/server/openapi.ts` writes it. */

/** Of the API: rises with what it can do. */
const API_VERSION = "1.0.0";

type Json = Record<string, unknown>;

export function openApi(): Json {
  const paths: Record<string, Json> = {};
  for (const [operationId, route] of Object.entries(ROUTES) as [string, Route][]) {
    paths[route.url] = { ...paths[route.url], [route.method.toLowerCase()]: operation(operationId, route) };
  }
  return {
    openapi: "3.1.0",
    info: {
      title: "bearing-rise desk",
      version: API_VERSION,
      description:
        "What the pages use, for programs too. Advice only: the site's own alarm, the operating rules and qualified people govern. " +
        "Temperatures are °F above ambient, distances miles, times milliseconds since 1970.",
      license: { name: "Apache-2.0", identifier: "Apache-2.0" },
    },
    paths,
    components: {
      securitySchemes: {
        session: {
          type: "apiKey",
          in: "cookie",
          name: "desk",
          description: "Cookie of a sign-in; changes also need the header x-desk-csrf.",
        },
        token: { type: "http", scheme: "bearer", description: "Token of a user, for programs." },
      },
      schemas: { Problem: schemaOf(problem, "output") },
    },
  };
}

function operation(operationId: string, route: Route): Json {
  const refused = {
    description: "Refused, with a code and what to do.",
    content: { "application/json": { schema: { $ref: "#/components/schemas/Problem" } } },
  };
  return {
    operationId,
    summary: route.summary,
    ...(route.who === "anyone"
      ? { security: [] }
      : { security: [{ session: [] }, { token: [] }], description: route.needs ?? `Needs the role ${route.who}.` }),
    ...(route.query === undefined ? {} : { parameters: parametersOf(route.query) }),
    ...(route.body === undefined
      ? {}
      : { requestBody: { required: true, content: { "application/json": { schema: schemaOf(route.body, "input") } } } }),
    responses: { "200": answer(route.reply), "4XX": refused },
  };
}

function answer(reply: Route["reply"]): Json {
  if ("text" in reply) return { description: reply.about, content: { [reply.text]: { schema: { type: "string" } } } };
  return { description: "Done.", content: { "application/json": { schema: schemaOf(reply, "output") } } };
}

function parametersOf(query: z.ZodType): Json[] {
  const { properties = {}, required = [] } = schemaOf(query, "input") as { properties?: Record<string, Json>; required?: string[] };
  return Object.entries(properties).map(([name, schema]) => {
    // A coerced number may come as any text; what is meant is a number.
    const meant =
      schema["type"] === undefined && schema["enum"] === undefined && schema["anyOf"] === undefined
        ? { type: "integer", ...schema }
        : schema;
    return { name, in: "query", required: required.includes(name) && meant["default"] === undefined, schema: meant };
  });
}

function schemaOf(schema: z.ZodType, io: "input" | "output"): Json {
  const { $schema: _, ...json } = z.toJSONSchema(schema, { target: "draft-2020-12", io }) as Json;
  return json;
}

/** The document as it is committed. */
export function openApiText(): string {
  return `${JSON.stringify(openApi(), null, 2)}\n`;
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  const deploy = new URL("../../../deploy/", import.meta.url);
  mkdirSync(deploy, { recursive: true });
  writeFileSync(new URL("openapi.json", deploy), openApiText());
}
