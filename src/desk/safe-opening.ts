import { existsSync } from "node:fs";
import { isIPv4 } from "node:net";
import { CommandError, EXIT } from "../replay/exit-status.ts";
import type { DeskConfig } from "./desk-config.ts";
import { Users } from "./people/users.ts";

/** The people of a desk, null where none are set up. @throws CommandError when opening it as configured would be unsafe */
export function peopleOf(config: DeskConfig): Users | null {
  const users = config.users === undefined || !existsSync(config.users) ? null : new Users(config.users);
  const unsafe = unsafeOpenings(config, users?.size ?? 0);
  if (unsafe.length > 0)
    throw new CommandError(EXIT.lineOrRules, `bearing-rise: the desk was not opened.\n${unsafe.map((why) => `  ${why}`).join("\n")}`);
  return users;
}

/** Why a desk is not opened as configured; empty: it may be. Each says what to do. */
export function unsafeOpenings(config: DeskConfig, users: number): string[] {
  const found: string[] = [];
  const isLocal = isLoopback(config.host);
  const signsIn = users > 0 || config.openid !== undefined;
  if (config.users !== undefined && users === 0)
    found.push(
      `DESK-001 no-users: the users file ${config.users} has no user. Add one: bearing-rise user add NAME --role administer --users ${config.users}`,
    );
  if (isLocal) return found;
  if (!signsIn && config.users === undefined)
    found.push(
      `DESK-001 no-users: ${config.host} can be reached from other machines, and nobody would have to sign in. Set desk.users or desk.openid, or listen on 127.0.0.1.`,
    );
  if (config.tls === undefined && config.proxy === undefined)
    found.push(
      `DESK-002 no-tls: ${config.host} can be reached from other machines, and passwords would go over the network in the clear. Set desk.tls, or desk.proxy when a proxy ends TLS before the desk, or listen on 127.0.0.1.`,
    );
  return found;
}

export function isLoopback(host: string): boolean {
  return host === "localhost" || host === "::1" || host === "[::1]" || (isIPv4(host) && host.startsWith("127."));
}
