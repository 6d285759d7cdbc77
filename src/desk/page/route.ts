import { useEffect, useState } from "preact/hooks";

/** Pages by the address behind the #: `#/warning/<id>`. */
export interface Route {
  page: string;
  id: string | null;
}

export function routeOf(hash: string): Route {
  const [page = "", id = null] = hash.replace(/^#\/?/, "").split("/");
  return { page: page === "" ? "now" : page, id: id === null ? null : decodeURIComponent(id) };
}

export function hrefOf(page: string, id: string | null = null): string {
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
