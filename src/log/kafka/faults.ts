import { FencedError, UnknownOutcomeError } from "../log.ts";

/** What a broker answers to a producer whose transactional id somebody else has taken since, or whose transaction it ended. */
const FENCED = new Set(["INVALID_PRODUCER_EPOCH", "PRODUCER_FENCED"]);

/** kafkajs does not know PRODUCER_FENCED, which is newer than its table. */
const PRODUCER_FENCED_UNKNOWN = /Unknown error code 90\b/;

/** The chain of causes, nearest first. */
export function* causes(error: unknown): Generator<{ message: string; type?: string; name?: string }> {
  let at: unknown = error;
  const seen = new Set<unknown>();
  while (at instanceof Error && !seen.has(at)) {
    seen.add(at);
    yield at as Error & { type?: string };
    at = at.cause;
  }
}

export function isOfType(error: unknown, type: string): boolean {
  for (const cause of causes(error)) if (cause.type === type) return true;
  return false;
}

function isFenced(error: unknown): boolean {
  for (const cause of causes(error)) {
    if ((cause.type !== undefined && FENCED.has(cause.type)) || PRODUCER_FENCED_UNKNOWN.test(cause.message)) return true;
  }
  return false;
}

/** Who may not, or is not believed to be who it says, is not let in by asking again. */
export function isFinal(error: unknown): boolean {
  for (const { type, name } of causes(error))
    if (type?.endsWith("AUTHORIZATION_FAILED") || name === "KafkaJSSASLAuthenticationError") return true;
  return false;
}

/**
 * What a client was told. kafkajs says of a group or transactional id that is not allowed to us only that no coordinator
 * was found [source: what the broker said is dropped], as it does when there is none yet.
 */
export function wordsOf(error: unknown): string {
  for (const { name } of causes(error)) {
    if (name === "KafkaJSGroupCoordinatorNotFound") {
      return "no coordinator: none is there yet, or the group or transactional id is not authorized for this user (see deploy/kafka-acls.md)";
    }
  }
  return error instanceof Error ? error.message : String(error);
}

/** A failed commit in the port's words. */
export function commitFault(error: unknown, what: string): FencedError | UnknownOutcomeError {
  const words = wordsOf(error);
  if (isFenced(error)) return new FencedError(`${what} was taken over: ${words}`, { cause: error });
  return new UnknownOutcomeError(`nobody can tell whether the commit for ${what} went through: ${words}`, { cause: error });
}
