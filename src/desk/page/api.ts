import type { ActRequest } from "../act.ts";
import type { Acted, Problem } from "../views/act-shape.ts";
import type { Session } from "../views/session-shape.ts";
import type { WhatIf } from "../views/what-if-shape.ts";

/** A request that was refused, or did not get through (status 0). */
export class ApiError extends Error {
  readonly status: number;
  readonly problem: Problem;

  constructor(status: number, problem: Problem) {
    super(problem.message);
    this.status = status;
    this.problem = problem;
  }
}

/** So long for an answer before it counts as not got through. */
const PATIENCE_MS = 10_000;
/** A day's passes twice through the engine take a while, and so does folding what stood at another time. */
const WHAT_IF_MS = 120_000;
const LOOK_BACK_MS = 120_000;

async function asked(path: string, init: RequestInit, patienceMs = PATIENCE_MS): Promise<unknown> {
  let response: Response;
  try {
    response = await fetch(path, { ...init, signal: AbortSignal.timeout(patienceMs) });
  } catch {
    throw new ApiError(0, { code: "no-connection", message: "The desk's server did not answer. Nothing was lost here; try again." });
  }
  const type = response.headers.get("content-type") ?? "";
  const body: unknown = type.includes("json") ? await response.json() : await response.text();
  if (!response.ok)
    throw new ApiError(
      response.status,
      typeof body === "object" && body !== null ? (body as Problem) : { code: String(response.status), message: String(body) },
    );
  return body;
}

export async function get<T>(path: string, query: Record<string, string | number | boolean | null> = {}): Promise<T> {
  const text = Object.entries(query)
    .filter(([, value]) => value !== null)
    .map(([name, value]) => `${name}=${encodeURIComponent(String(value))}`)
    .join("&");
  return (await asked(text === "" ? path : `${path}?${text}`, {}, query["at"] == null ? PATIENCE_MS : LOOK_BACK_MS)) as T;
}

function post(path: string, body: unknown, csrf: string | null, patienceMs = PATIENCE_MS): Promise<unknown> {
  const headers: Record<string, string> = { "content-type": "application/json" };
  if (csrf !== null) headers["x-desk-csrf"] = csrf;
  return asked(path, { method: "POST", headers, body: JSON.stringify(body) }, patienceMs);
}

export async function signIn(name: string, password: string | null, role: string | null): Promise<Session> {
  return (await post(
    "/api/sign-in",
    { name, ...(password === null ? {} : { password }), ...(role === null ? {} : { role }) },
    null,
  )) as Session;
}

export async function signOut(): Promise<void> {
  await post("/api/sign-out", {}, null);
}

/** Sent again after a lost answer it changes nothing: the id is made once, by the form. */
export async function act(request: ActRequest, csrf: string | null): Promise<Acted> {
  return (await post("/api/act", request, csrf)) as Acted;
}

export async function whatIf(rules: string, fromMs: number, toMs: number, csrf: string | null): Promise<WhatIf> {
  return (await post("/api/what-if", { rules, fromMs: Math.round(fromMs), toMs: Math.round(toMs) }, csrf, WHAT_IF_MS)) as WhatIf;
}
