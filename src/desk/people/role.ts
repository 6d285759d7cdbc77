/** What a person may do. `act`: on warnings; `maintain`: on sites; `administer`: all of it, and the audit export. Everybody may look. */
export type Role = "view" | "act" | "maintain" | "administer";

export const ROLES: readonly Role[] = ["view", "act", "maintain", "administer"];

const ALLOWED: Record<Role, ReadonlySet<Role>> = {
  view: new Set<Role>(["view"]),
  act: new Set<Role>(["view", "act"]),
  maintain: new Set<Role>(["view", "maintain"]),
  administer: new Set<Role>(ROLES),
};

export function may(role: Role, needed: Role): boolean {
  return ALLOWED[role].has(needed);
}

/** Somebody who is signed in. */
export interface Person {
  name: string;
  role: Role;
}
