import { useState } from "preact/hooks";
import type { ActRequest } from "../act.ts";
import type { Row } from "../board/row.ts";
import type { OneWarning } from "../views/warning-shape.ts";
import { announce } from "./announcer.ts";
import { ApiError, act } from "./api.ts";
import { inputOf, instantOf } from "./clock.ts";
import { h, type VNode } from "./element.ts";
import { store, useStore } from "./store.ts";

type Form = "assign" | "note" | "found" | "shelve" | "return-to-service" | null;
type Partly = Partial<ActRequest> & Pick<ActRequest, "action">;

const HOUR_MS = 3_600_000;

/** An id for an action: made once, kept until it got through, so that trying again never acts twice. */
export function newId(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return `desk/${[...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
}

/** What can be done about a warning. What somebody else did meanwhile is shown before anything is taken down. */
export function ActionsPanel({ data, again }: { data: OneWarning; again(): void }): VNode {
  const { session } = useStore();
  const { row } = data;
  // What a refusal showed has been seen, though the page may not have asked anew yet.
  const [shown, setShown] = useState<Row | null>(null);
  const [form, setForm] = useState<Form>(null);
  const [id, setId] = useState(newId);
  const [busy, setBusy] = useState(false);
  const [refused, setRefused] = useState<{ message: string; since: string[] } | null>(null);
  const may = session?.person?.role === "act" || session?.person?.role === "administer";

  const send = async (what: Partly) => {
    setBusy(true);
    setRefused(null);
    try {
      const acted = await act({ id, warning: row.id, seen: seenOf(row, shown), ...what }, session?.csrf ?? null);
      setId(newId());
      setForm(null);
      if (acted.row !== null) store.rows.put(acted.row);
      announce("Taken down.");
      store.changed();
      again();
    } catch (error) {
      if (!(error instanceof ApiError)) throw error;
      const { row: current, since = [], message } = error.problem;
      setRefused({ message, since });
      if (current !== undefined) {
        setShown(current);
        store.rows.put(current);
        store.changed();
      }
      // What was refused was not taken down; what got no answer may have been, and keeps its id.
      if (error.status !== 0) setId(newId());
      again();
    } finally {
      setBusy(false);
    }
  };

  if (!may)
    return h(
      "section",
      { class: "sheet actions" },
      h("h2", {}, "Act"),
      h("p", { class: "quiet" }, `Your role (${session?.person?.role}) looks at warnings and does not act on them.`),
    );
  const button = (words: string, onClick: () => void, possible = true, main = false) =>
    h("button", { type: "button", class: main ? "main" : "", disabled: busy || !possible, onClick }, words);
  const open = (name: Form) => () => setForm(form === name ? null : name);
  const isOpen = row.state === "unacknowledged" || row.state === "acknowledged" || row.state === "shelved";
  return h(
    "section",
    { class: "sheet actions", "aria-label": "Act on this warning" },
    h("h2", {}, "Act"),
    refused !== null &&
      h(
        "div",
        { class: "refused", role: "alert" },
        h("p", {}, h("strong", {}, refused.message)),
        refused.since.length > 0 &&
          h(
            "ul",
            {},
            refused.since.map((one) => h("li", {}, store.readable(one))),
          ),
      ),
    h(
      "div",
      { class: "buttons" },
      button("Acknowledge", () => void send({ action: "acknowledge" }), row.state === "unacknowledged", row.state === "unacknowledged"),
      button(
        "Told the crew",
        () => void send({ action: "note", done: "told-crew" }),
        isOpen,
        row.state === "acknowledged" && row.done === null,
      ),
      button("Train stopped", () => void send({ action: "note", done: "train-stopped" }), isOpen),
      button("Vehicle set out", () => void send({ action: "note", done: "set-out" }), isOpen),
      button("Found …", open("found"), isOpen),
      button("Assign …", open("assign"), isOpen),
      button("Note …", open("note")),
      row.state === "shelved"
        ? button("Unshelve", () => void send({ action: "unshelve" }))
        : button("Shelve …", open("shelve"), isOpen && row.level !== "limit"),
      row.state === "out-of-service" && button("Return to service …", open("return-to-service")),
    ),
    row.level === "limit" &&
      isOpen &&
      h("p", { class: "quiet small" }, "A bearing that reached the limit cannot be shelved. Only an inspection clears it."),
    form === "assign" && h(AssignForm, { busy, send }),
    form === "note" && h(NoteForm, { busy, send, words: "Note", action: "note" }),
    form === "return-to-service" && h(NoteForm, { busy, send, words: "Why it goes back into service", action: "return-to-service" }),
    form === "found" && h(FoundForm, { busy, send }),
    form === "shelve" && h(ShelveForm, { busy, send, mostHours: data.shelveMaxHours }),
  );
}

function seenOf(row: Row, shown: Row | null): NonNullable<ActRequest["seen"]> {
  const last = shown !== null && shown.id === row.id && (shown.version > row.version || shown.actions > row.actions) ? shown : row;
  return { version: last.version, actions: last.actions };
}

/** A form that opens takes the keyboard. The same function each time, so only when it opens. */
function takeFocus(element: HTMLElement | null): void {
  element?.focus();
}

interface FormProps {
  busy: boolean;
  send(what: Partly): Promise<void>;
}

function valuesOf(event: Event): (name: string) => string {
  event.preventDefault();
  const form = new FormData(event.currentTarget as HTMLFormElement);
  return (name) => String(form.get(name) ?? "").trim();
}

function AssignForm({ busy, send }: FormProps): VNode {
  const people = [...new Set([store.session?.person?.name ?? "", ...(store.session?.people ?? [])])].filter((name) => name !== "");
  return h(
    "form",
    { onSubmit: (event: Event) => void send({ action: "assign", to: valuesOf(event)("to") }) },
    h("label", { for: "to" }, "Goes to"),
    h("input", { id: "to", name: "to", required: true, maxLength: 64, list: "people", ref: takeFocus }),
    h(
      "datalist",
      { id: "people" },
      people.map((name) => h("option", { value: name })),
    ),
    h("button", { type: "submit", class: "main", disabled: busy }, "Assign"),
  );
}

function NoteForm({ busy, send, words, action }: FormProps & { words: string; action: "note" | "return-to-service" }): VNode {
  return h(
    "form",
    { onSubmit: (event: Event) => void send({ action, text: valuesOf(event)("text") }) },
    h("label", { for: "text" }, words),
    h("textarea", { id: "text", name: "text", required: true, maxLength: 2_000, ref: takeFocus }),
    h("button", { type: "submit", class: "main", disabled: busy }, "Take down"),
  );
}

const FOUND = [
  ["defect-confirmed", "Defect confirmed: the vehicle goes out of service"],
  ["nothing-found", "Nothing found: the warning is cleared"],
  ["wheel-or-brake", "Wheel or brake, not the bearing: the warning is cleared"],
  ["not-inspected", "Not inspected: the warning stands"],
] as const;
const STICK = [
  ["melted", "melted on the cup"],
  ["not-melted", "did not melt"],
  ["not-used", "not used"],
] as const;

function FoundForm({ busy, send }: FormProps): VNode {
  const submit = (event: Event) => {
    const value = valuesOf(event);
    const text = value("text");
    const heatStick = value("stick");
    void send({
      action: "found",
      found: value("found") as NonNullable<ActRequest["found"]>,
      ...(heatStick === "" ? {} : { heatStick: heatStick as NonNullable<ActRequest["heatStick"]> }),
      ...(text === "" ? {} : { text }),
    });
  };
  const choices = (name: string, words: string, of: readonly (readonly [string, string])[]) =>
    h(
      "fieldset",
      {},
      h("legend", {}, words),
      of.map(([value, says]) =>
        h(
          "label",
          { class: "choice" },
          h("input", {
            type: "radio",
            name,
            value,
            required: true,
            ref: name === "found" && value === FOUND[0][0] ? takeFocus : undefined,
          }),
          says,
        ),
      ),
    );
  return h(
    "form",
    { onSubmit: submit },
    choices("found", "What the crew or the inspector found", FOUND),
    choices("stick", "Heat-sensitive stick", STICK),
    h("label", { for: "text" }, "More (who inspected, which bearing, where)"),
    h("textarea", { id: "text", name: "text", maxLength: 2_000 }),
    h("button", { type: "submit", class: "main", disabled: busy }, "Take down"),
  );
}

function ShelveForm({ busy, send, mostHours }: FormProps & { mostHours: number }): VNode {
  const { zone } = store;
  const now = store.now();
  const submit = (event: Event) => {
    const value = valuesOf(event);
    const untilMs = Math.min(instantOf(value("until"), zone), store.now() + mostHours * HOUR_MS);
    void send({ action: "shelve", text: value("text"), ...(Number.isFinite(untilMs) ? { until: new Date(untilMs).toISOString() } : {}) });
  };
  if (mostHours === 0) return h("p", { class: "quiet" }, "The rules allow no shelving.");
  return h(
    "form",
    { onSubmit: submit },
    h("label", { for: "text" }, "Reason"),
    h("textarea", { id: "text", name: "text", required: true, maxLength: 2_000, ref: takeFocus }),
    h("label", { for: "until" }, `Until (railroad’s time; the rules allow ${mostHours} hours)`),
    h("input", {
      id: "until",
      name: "until",
      type: "datetime-local",
      required: true,
      value: inputOf(now + HOUR_MS, zone),
      min: inputOf(now, zone),
      max: inputOf(now + mostHours * HOUR_MS, zone),
    }),
    h("button", { type: "submit", class: "main", disabled: busy }, "Shelve"),
  );
}
