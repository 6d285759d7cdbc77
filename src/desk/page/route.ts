import { useEffect, useState } from "preact/hooks";

/** Pages by the address behind the #: `#/warning/<id>`. */
export interface Route {
  page: Page | "unknown";
  /** What the page is about; of an unknown page the address as it came. */
  id: string | null;
}

export type Page = "now" | "line" | "sites" | "handover" | "back" | "warning" | "train" | "test";

/** Whether a page is about one thing (and nothing without it), may be about one, or never is. */
const TAKES_ID: Readonly<Record<Page, "always" | "may" | "never">> = {
  now: "never",
  line: "never",
  sites: "may",
  handover: "never",
  back: "never",
  warning: "always",
  train: "always",
  test: "always",
};

/** An address that names no page, or that was cut off on the way (in a mail, by hand), is `unknown`: to be said, never guessed at. */
export function routeOf(hash: string): Route {
  const unknown: Route = { page: "unknown", id: hash };
  const [name = "", text = null] = hash.replace(/^#\/?/, "").split("/");
  const page = name === "" ? "now" : name;
  if (!isPage(page)) return unknown;
  const takes = TAKES_ID[page];
  if (text === null || text === "") return takes === "always" ? unknown : { page, id: null };
  const id = decoded(text);
  return id === null || takes === "never" ? unknown : { page, id };
}

function isPage(name: string): name is Page {
  return Object.hasOwn(TAKES_ID, name);
}

function decoded(text: string): string | null {
  try {
    return decodeURIComponent(text);
  } catch {
    return null;
  }
}

export function hrefOf(page: Page, id: string | null = null): string {
  return id === null ? `#/${page}` : `#/${page}/${encodeURIComponent(id)}`;
}

export function useRoute(): Route {
  const [route, set] = useState(() => routeOf(location.hash));
  useEffect(() => {
    const changed = () => set(routeOf(location.hash));
    addEventListener("hashchange", changed);
    return () => removeEventListener("hashchange", changed);
  }, []);
  return route;
}
