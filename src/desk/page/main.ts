import { render } from "preact";
import type { Session } from "../views/session-shape.ts";
import { allowSound } from "./announcer.ts";
import { get } from "./api.ts";
import { h } from "./element.ts";
import { Frame } from "./frame.ts";
import { Live } from "./live.ts";
import { store } from "./store.ts";

/** Tries again while the server does not answer. */
const RETRY_MS = 2_000;

async function open(): Promise<void> {
  let session: Session;
  try {
    session = await get<Session>("/api/session");
  } catch {
    setTimeout(() => void open(), RETRY_MS);
    return;
  }
  store.setSession(session);
  const root = document.getElementById("desk");
  if (root === null) return;
  root.textContent = "";
  render(h(Frame, {}), root);
  if (session.person !== null) new Live().start();
}

addEventListener("pointerdown", allowSound);
addEventListener("keydown", allowSound);
void open();
