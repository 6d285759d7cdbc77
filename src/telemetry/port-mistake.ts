import { CommandError, EXIT } from "../replay/exit-status.ts";

const REASONS: Record<string, string> = {
  EADDRINUSE: "another program has it, perhaps another bearing-rise",
  EACCES: "this user may not listen there",
  EADDRNOTAVAIL: "this machine has no such address",
  ENOTFOUND: "no address is known under that name",
};

/**
 * Why a port of ours could not be opened, and what to do: `remedy`, else the key of the configuration that changes it. What is
 * no such mistake comes back as it is.
 */
export function portMistake(
  key: string,
  { host, port }: { host: string; port: number },
  error: unknown,
  remedy = `Set ${key}.host and ${key}.port to something free.`,
): unknown {
  const { code, syscall } = error as NodeJS.ErrnoException;
  if (syscall !== "listen" && syscall !== "getaddrinfo") return error;
  const reason = REASONS[code ?? ""] ?? (error as Error).message;
  return new CommandError(EXIT.broken, `bearing-rise: ${key} cannot listen on ${host}:${port}: ${reason} (${code}). ${remedy}`);
}
