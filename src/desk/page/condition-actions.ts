import { useState } from "preact/hooks";
import type { ActRequest } from "../act.ts";
import type { SitesView } from "../views/sites-shape.ts";
import { newId } from "./actions-panel.ts";
import { announce } from "./announcer.ts";
import { ApiError, act } from "./api.ts";
import { h, type VNode } from "./element.ts";
import { store, useStore } from "./store.ts";

type Condition = SitesView["sites"][number]["conditions"][number];

const HOUR_MS = 3_600_000;
const SHELVE_H = 24;

/** What can be done about one condition of a site: by whoever acts, and by those who maintain. */
export function ConditionActions({ site, condition }: { site: string; condition: Condition }): VNode | null {
  const { session, at } = useStore();
  const [form, setForm] = useState<"note" | "shelve" | "out-of-service" | null>(null);
  const [id, setId] = useState(newId);
  const [error, setError] = useState("");
  const role = session?.person?.role ?? "view";
  if (at !== null || role === "view") return null;
  const send = async (what: Partial<ActRequest> & Pick<ActRequest, "action">) => {
    setError("");
    try {
      await act(
        { id, site, condition: condition.id, ...(condition.device === "" ? {} : { device: condition.device }), ...what },
        session?.csrf ?? null,
      );
      setId(newId());
      setForm(null);
      announce("Taken down.");
      store.sitesVersion++;
      store.changed();
    } catch (refused) {
      if (!(refused instanceof ApiError)) throw refused;
      if (refused.status !== 0) setId(newId());
      setError(refused.message);
    }
  };
  const maintains = role === "maintain" || role === "administer";
  const button = (words: string, onClick: () => void) => h("button", { type: "button", onClick }, words);
  const { alarm } = condition;
  return h(
    "div",
    { class: "condition-actions no-print" },
    (alarm === "unacknowledged" || alarm === "returned-unacknowledged") &&
      button("Acknowledge", () => void send({ action: "acknowledge" })),
    button("Note …", () => setForm(form === "note" ? null : "note")),
    maintains && alarm !== "shelved" && button("Shelve …", () => setForm(form === "shelve" ? null : "shelve")),
    maintains && alarm === "shelved" && button("Unshelve", () => void send({ action: "unshelve" })),
    maintains &&
      alarm !== "out-of-service" &&
      button("Out of service …", () => setForm(form === "out-of-service" ? null : "out-of-service")),
    maintains && alarm === "out-of-service" && button("Return to service", () => void send({ action: "return-to-service" })),
    error !== "" && h("p", { class: "error", role: "alert" }, error),
    form !== null &&
      h(
        "form",
        {
          onSubmit: (event: Event) => {
            event.preventDefault();
            const text = String(new FormData(event.currentTarget as HTMLFormElement).get("text") ?? "").trim();
            const until = new Date(store.now() + SHELVE_H * HOUR_MS).toISOString();
            void send({ action: form, text, ...(form === "shelve" ? { until } : {}) });
          },
        },
        h(
          "label",
          { for: `text-${condition.id}` },
          form === "shelve" ? `Reason (shelved for ${SHELVE_H} hours)` : form === "note" ? "Note" : "Reason",
        ),
        h("textarea", { id: `text-${condition.id}`, name: "text", required: true, maxLength: 2_000 }),
        h("button", { type: "submit", class: "main" }, "Take down"),
      ),
  );
}
