import { useEffect, useRef, useState } from "preact/hooks";
import { ApiError, get } from "./api.ts";
import { h, type VNode } from "./element.ts";
import { hrefOf } from "./route.ts";
import { useStore } from "./store.ts";

export interface Asked<T> {
  data: T | null;
  error: ApiError | null;
  again(): void;
}

/**
 * Asks the server, and again whenever `mark` changes; what was shown stays until the new answer is there, unless it is of another
 * time than the one looked at.
 */
export function useAsked<T>(path: string, query: Record<string, string | number | null>, mark: string): Asked<T> {
  const [answered, setAnswered] = useState<{ data: T; at: unknown } | null>(null);
  const [error, setError] = useState<ApiError | null>(null);
  const [turn, setTurn] = useState(0);
  const latest = useRef(0);
  // What could not be asked without a connection is asked when it is back.
  const isLive = useStore().notLiveSince === null;
  const text = JSON.stringify(query);
  const at = query["at"] ?? null;
  useEffect(() => {
    const mine = ++latest.current;
    get<T>(path, JSON.parse(text) as Record<string, string | number | null>)
      .then((answer) => {
        if (mine !== latest.current) return;
        setAnswered({ data: answer, at });
        setError(null);
      })
      .catch((refused: unknown) => {
        if (mine === latest.current && refused instanceof ApiError) setError(refused);
      });
  }, [path, text, mark, turn, isLive]);
  const data = answered !== null && answered.at === at ? answered.data : null;
  return { data, error, again: () => setTurn((count) => count + 1) };
}

/** While there is nothing to show yet, or why there will not be, and where to go on. */
export function Waiting({ error }: { error: ApiError | null }): VNode {
  if (error === null) return h("p", { class: "loading", role: "status" }, "Loading …");
  return h(NotShown, { title: error.status === 404 ? "Not here" : "Not loaded", words: error.message });
}

/** A page that cannot show what was asked for: why, and the way back. */
export function NotShown({ title, words }: { title: string; words: string }): VNode {
  return h(
    "article",
    { class: "not-shown" },
    h("h1", {}, title),
    h("p", { role: "alert" }, words),
    h("p", {}, h("a", { class: "button", href: hrefOf("now") }, "Go to Now")),
  );
}
