import { useState } from "preact/hooks";
import type { ApiError } from "./api.ts";
import { signIn } from "./api.ts";
import { Caution } from "./caution.ts";
import { h, type VNode } from "./element.ts";
import { useStore } from "./store.ts";

const ROLES = [
  ["act", "acts on warnings (dispatcher)"],
  ["maintain", "maintains sites"],
  ["view", "only looks"],
  ["administer", "administers"],
] as const;

/** Who is there. On this machine without users a name is enough; it stands beside everything the person does. */
export function SignIn(): VNode {
  const { session } = useStore();
  const [error, setError] = useState("");
  const [busy, setBusy] = useState(false);
  const ways = session?.signIn ?? [];
  const byName = ways.includes("name");
  const submit = async (event: Event) => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string) => (form.get(name) === null ? null : String(form.get(name)));
    setBusy(true);
    try {
      await signIn(text("name") ?? "", text("password"), text("role"));
      location.reload();
    } catch (refused) {
      setError((refused as ApiError).message);
      setBusy(false);
    }
  };
  return h(
    "main",
    { class: "sign-in", id: "content" },
    h("h1", {}, session?.railroad.name ?? "Desk"),
    session?.demonstration != null && h("p", { class: "demonstration" }, session.demonstration),
    (byName || ways.includes("password")) &&
      h(
        "form",
        { onSubmit: submit },
        h("label", { for: "name" }, "Name"),
        h("input", { id: "name", name: "name", required: true, maxLength: 64, autocomplete: "username", autofocus: true }),
        byName && [
          h("label", { for: "role" }, "Role"),
          h(
            "select",
            { id: "role", name: "role" },
            ROLES.map(([role, words]) => h("option", { value: role }, words)),
          ),
          h(
            "p",
            { class: "quiet help" },
            "No users are set up and only this machine can reach the desk, so a name is enough. It stands beside everything you do.",
          ),
        ],
        ways.includes("password") && [
          h("label", { for: "password" }, "Password"),
          h("input", { id: "password", name: "password", type: "password", required: true, autocomplete: "current-password" }),
        ],
        error !== "" && h("p", { class: "error", role: "alert" }, error),
        h("button", { type: "submit", class: "main", disabled: busy }, "Sign in"),
      ),
    ways.includes("openid") && h("p", {}, h("a", { class: "button", href: "/api/openid" }, "Sign in with the railroad’s account")),
    h(Caution, {}),
  );
}
