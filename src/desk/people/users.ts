import { createHash, randomBytes } from "node:crypto";
import { chmodSync, readFileSync, renameSync, statSync, writeFileSync } from "node:fs";
import * as z from "zod";
import { person } from "../../feed/fields.ts";
import { hashPassword, PASSWORD_BYTES, PASSWORD_LEAST, verifyPassword } from "./password.ts";
import { type Person, ROLES, type Role } from "./role.ts";

/** Users of one desk, and tokens of one user. */
const MOST_USERS = 1_000;
const MOST_TOKENS = 20;
/** Tokens that were verified and need no scrypt again, until the file changes. */
const MOST_VERIFIED = 1_000;
const TOKEN_BYTES = 32;

const token = z.strictObject({ name: person, hash: z.string().max(200), role: z.enum(ROLES as [Role, ...Role[]]) });
const user = z.strictObject({
  name: person,
  role: z.enum(ROLES as [Role, ...Role[]]),
  password: z.string().max(200).nullable(),
  tokens: z.array(token).max(MOST_TOKENS).default([]),
});
const usersFile = z.strictObject({ users: z.array(user).max(MOST_USERS) });
type UsersFile = z.infer<typeof usersFile>;
type User = z.infer<typeof user>;

/** The users file cannot be used, or a change to it is not possible; the message says what to do. */
export class UsersMistake extends Error {
  readonly code = "DESK-010 users";
}

/** A change to the users file could not be written; the message says what to do. */
export class UsersUnwritable extends Error {
  readonly code = "DESK-010 users";
}

/**
 * Named users in a file of their own (JSON, mode 0600): scrypt hashes only. It is read again when it changed, so a user who
 * is taken out is out at the next request.
 */
export class Users {
  private readonly path: string;
  private readAt = "";
  private file: UsersFile = { users: [] };
  private readonly verified = new Map<string, Person>();

  constructor(path: string) {
    this.path = path;
    this.read();
  }

  names(): string[] {
    return this.read().users.map(({ name }) => name);
  }

  get size(): number {
    return this.read().users.length;
  }

  /** The person as the file stands now; null when there is none of that name. */
  person(name: string): Person | null {
    const found = this.find(name);
    return found === undefined ? null : { name: found.name, role: found.role };
  }

  async signIn(name: string, password: string): Promise<Person | null> {
    const found = this.find(name);
    // A name that is not there costs as much time as one that is.
    const right = await verifyPassword(password, found?.password ?? NOBODY);
    return right && found !== undefined ? { name: found.name, role: found.role } : null;
  }

  /** A token is `<user>:<token name>:<secret>`, in that order, base64url of UTF-8 for the names. */
  async byToken(text: string): Promise<Person | null> {
    this.read();
    const digest = createHash("sha256").update(text).digest("base64url");
    const known = this.verified.get(digest);
    if (known !== undefined) return known;
    const [userName, tokenName, secret] = text.split(".");
    if (userName === undefined || tokenName === undefined || secret === undefined) return null;
    const found = this.find(Buffer.from(userName, "base64url").toString());
    const held = found?.tokens.find((one) => one.name === Buffer.from(tokenName, "base64url").toString());
    const right = await verifyPassword(secret, held?.hash ?? NOBODY);
    if (!right || found === undefined || held === undefined) return null;
    const holder: Person = { name: found.name, role: held.role };
    if (this.verified.size >= MOST_VERIFIED) this.verified.clear();
    this.verified.set(digest, holder);
    return holder;
  }

  private find(name: string): User | undefined {
    return this.read().users.find((one) => one.name === name);
  }

  private read(): UsersFile {
    let stamp = "";
    try {
      const { mtimeMs, size, ino } = statSync(this.path);
      stamp = `${mtimeMs} ${size} ${ino}`;
    } catch {
      throw new UsersMistake(
        `The users file ${this.path} cannot be read. Add a user with: bearing-rise user add NAME --users ${this.path}`,
      );
    }
    if (stamp === this.readAt) return this.file;
    this.file = readUsers(this.path);
    this.readAt = stamp;
    this.verified.clear();
    return this.file;
  }
}

/** A hash that no password has. */
const NOBODY = `scrypt$15$8$1$${"A".repeat(22)}$${"A".repeat(43)}`;

function readUsers(path: string): UsersFile {
  let text: string;
  try {
    text = readFileSync(path, "utf8");
  } catch (error) {
    throw new UsersMistake(`The users file ${path} cannot be read: ${(error as Error).message}`);
  }
  try {
    return usersFile.parse(JSON.parse(text));
  } catch {
    throw new UsersMistake(
      `The users file ${path} is not one of ours. Keep a copy, remove it and add the users again with: bearing-rise user add`,
    );
  }
}

function writeUsers(path: string, file: UsersFile): void {
  const beside = `${path}.new`;
  try {
    writeFileSync(beside, `${JSON.stringify(file, null, 2)}\n`, { mode: 0o600 });
    chmodSync(beside, 0o600);
    renameSync(beside, path);
  } catch (error) {
    throw new UsersUnwritable(
      `The users file ${path} could not be written, and nothing changed: ${(error as Error).message}. ` +
        "Its folder must be there and one that you may write to, with room on the disk.",
    );
  }
}

function opened(path: string): UsersFile {
  try {
    statSync(path);
  } catch {
    return { users: [] };
  }
  return readUsers(path);
}

/** Adds a user, or gives one that is there another role and password. @throws UsersMistake, UsersUnwritable */
export async function setUser(path: string, name: string, role: Role, password: string): Promise<void> {
  if (!person.safeParse(name).success) throw new UsersMistake("A name has 1 to 64 characters, none of them a control character.");
  if ([...password].length < PASSWORD_LEAST)
    throw new UsersMistake(`A password has at least ${PASSWORD_LEAST} characters: a few words do.`);
  if (Buffer.byteLength(password) > PASSWORD_BYTES) throw new UsersMistake(`A password has at most ${PASSWORD_BYTES} bytes.`);
  const file = opened(path);
  const others = file.users.filter((one) => one.name !== name);
  if (others.length >= MOST_USERS) throw new UsersMistake(`There are ${MOST_USERS} users already.`);
  const before = file.users.find((one) => one.name === name);
  writeUsers(path, { users: [...others, { name, role, password: await hashPassword(password), tokens: before?.tokens ?? [] }] });
}

/** @throws UsersMistake when there is none of that name; UsersUnwritable */
export function removeUser(path: string, name: string): void {
  const file = opened(path);
  if (!file.users.some((one) => one.name === name)) throw new UsersMistake(`There is no user ${name} in ${path}.`);
  writeUsers(path, { users: file.users.filter((one) => one.name !== name) });
}

/** A token for a program, shown once. @throws UsersMistake, UsersUnwritable */
export async function addToken(path: string, name: string, tokenName: string, role: Role): Promise<string> {
  const file = opened(path);
  const found = file.users.find((one) => one.name === name);
  if (found === undefined) throw new UsersMistake(`There is no user ${name} in ${path}.`);
  if (!person.safeParse(tokenName).success) throw new UsersMistake("A token's name has 1 to 64 characters.");
  if (found.tokens.length >= MOST_TOKENS) throw new UsersMistake(`${name} has ${MOST_TOKENS} tokens already.`);
  const secret = randomBytes(TOKEN_BYTES).toString("base64url");
  found.tokens = [...found.tokens.filter((one) => one.name !== tokenName), { name: tokenName, hash: await hashPassword(secret), role }];
  writeUsers(path, file);
  return [Buffer.from(name).toString("base64url"), Buffer.from(tokenName).toString("base64url"), secret].join(".");
}
