/** What a command's exit status says. Programs may rely on these. */
export const EXIT = {
  done: 0,
  usage: 2,
  /** The line file or the rules have mistakes. */
  lineOrRules: 3,
  /** A feed could not be read (any further), or nothing in it can be used. */
  feed: 4,
  /** Only with --strict: done, and some records were rejected. */
  rejected: 5,
  /** Results could not be written. */
  output: 6,
  /** A process that runs until stopped could not go on; a supervisor starts it again. */
  broken: 7,
  /** Something of ours broke: please report it. */
  internal: 70,
} as const;

/** Ends a command with a message for people and a status for programs. */
export class CommandError extends Error {
  readonly status: number;

  constructor(status: number, message: string) {
    super(message);
    this.name = "CommandError";
    this.status = status;
  }
}
