import { randomBytes, type ScryptOptions, scrypt, timingSafeEqual } from "node:crypto";

/**
 * scrypt with N = 2^15, r = 8, p = 1: 32 MB and some 100 ms a try; the parameters stand in the hash, so they can be raised.
 * Text: `scrypt$<log2 N>$<r>$<p>$<salt>$<hash>`, base64url.
 */
const COST = { log2N: 15, r: 8, p: 1 };
const KEY_BYTES = 32;
const SALT_BYTES = 16;
/** No hash of ours asks for more; a users file that does is wrong or hostile. */
const MOST = { log2N: 18, r: 16, p: 4 };

/** Bytes of a password: a sentence; more would only cost time. */
export const PASSWORD_BYTES = 1024;
/** NIST SP 800-63B asks for at least 8 characters of a password that a person chooses (from memory); we ask for more. */
export const PASSWORD_LEAST = 10;

export async function hashPassword(password: string, cost = COST): Promise<string> {
  const salt = randomBytes(SALT_BYTES);
  const key = await derive(password, salt, cost);
  return `scrypt$${cost.log2N}$${cost.r}$${cost.p}$${salt.toString("base64url")}$${key.toString("base64url")}`;
}

/** Takes the same time whether the password is nearly right or not at all. False for a hash that is none. */
export async function verifyPassword(password: string, hash: string): Promise<boolean> {
  const parts = /^scrypt\$(\d{1,2})\$(\d{1,2})\$(\d)\$([\w-]{16,64})\$([\w-]{43})$/.exec(hash);
  if (parts === null || Buffer.byteLength(password) > PASSWORD_BYTES) return false;
  const cost = { log2N: Number(parts[1]), r: Number(parts[2]), p: Number(parts[3]) };
  if (cost.log2N < 1 || cost.log2N > MOST.log2N || cost.r < 1 || cost.r > MOST.r || cost.p < 1 || cost.p > MOST.p) return false;
  const expected = Buffer.from(parts[5]!, "base64url");
  const key = await derive(password, Buffer.from(parts[4]!, "base64url"), cost);
  return key.length === expected.length && timingSafeEqual(key, expected);
}

function derive(password: string, salt: Buffer, { log2N, r, p }: typeof COST): Promise<Buffer> {
  const N = 2 ** log2N;
  const options: ScryptOptions = { N, r, p, maxmem: 256 * N * r };
  return new Promise((resolve, reject) =>
    scrypt(password.normalize("NFKC"), salt, KEY_BYTES, options, (error, key) => (error === null ? resolve(key) : reject(error))),
  );
}
