import { expect } from "vitest";
import { csrfOf } from "../../src/desk/people/sessions.ts";

/** A program or a page that asks a desk, with its cookie and what proves that it is ours. */
export class Client {
  readonly url: string;
  cookie = "";

  constructor(url: string) {
    this.url = url.replace(/\/$/, "");
  }

  async signIn(name: string, role?: string, password?: string): Promise<Response> {
    const answer = await this.post("/api/sign-in", {
      name,
      ...(role === undefined ? {} : { role }),
      ...(password === undefined ? {} : { password }),
    });
    const set = answer.headers.get("set-cookie");
    if (set !== null) this.cookie = set.split(";")[0]!;
    return answer;
  }

  get(path: string, headers: Record<string, string> = {}): Promise<Response> {
    return fetch(this.url + path, { headers: { cookie: this.cookie, ...headers } });
  }

  async json<T>(path: string): Promise<T> {
    const answer = await this.get(path);
    expect(answer.status, path).toBe(200);
    return (await answer.json()) as T;
  }

  post(path: string, body: unknown, headers: Record<string, string> = {}): Promise<Response> {
    const id = this.cookie.split("=")[1] ?? "";
    const csrf: Record<string, string> = id === "" ? {} : { "x-desk-csrf": csrfOf(id) };
    return fetch(this.url + path, {
      method: "POST",
      headers: { "content-type": "application/json", cookie: this.cookie, ...csrf, ...headers },
      body: typeof body === "string" ? body : JSON.stringify(body),
    });
  }

  /** The stream of changes as events, until `enough`. */
  async events(
    path: string,
    enough: (events: readonly ServerEvent[]) => boolean,
    headers: Record<string, string> = {},
  ): Promise<ServerEvent[]> {
    const stop = new AbortController();
    const answer = await fetch(this.url + path, { headers: { cookie: this.cookie, ...headers }, signal: stop.signal });
    const events: ServerEvent[] = [];
    let text = "";
    try {
      for await (const piece of answer.body!.pipeThrough(new TextDecoderStream())) {
        text += piece;
        const parts = text.split("\n\n");
        text = parts.pop()!;
        for (const part of parts) {
          const field = (name: string) =>
            part
              .split("\n")
              .find((line) => line.startsWith(`${name}: `))
              ?.slice(name.length + 2) ?? "";
          if (field("event") !== "") events.push({ event: field("event"), id: field("id"), data: JSON.parse(field("data")) });
        }
        if (enough(events)) break;
      }
    } finally {
      stop.abort();
    }
    return events;
  }
}

export interface ServerEvent {
  event: string;
  id: string;
  data: unknown;
}
