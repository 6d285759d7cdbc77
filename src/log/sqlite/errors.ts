/** Another process has the data folder open: two would write over each other. */
export class LogInUseError extends Error {
  readonly code = "LOG-008 in-use";
}

/** The data folder holds something that this program cannot read. */
export class LogUnreadableError extends Error {
  readonly code = "LOG-009 unreadable";
}
