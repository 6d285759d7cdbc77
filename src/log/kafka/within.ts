/** The promise's result, or an error after so many milliseconds. The promise itself goes on; what it throws then is dropped. */
export function within<T>(ms: number, promise: Promise<T>, what: string): Promise<T> {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error(`${what} took longer than ${ms} ms`)), ms);
    promise.then(resolve, reject).finally(() => clearTimeout(timer));
  });
}

/** Waits for the promise at most so long, whatever becomes of it: for the last steps of things that are given up anyway. */
export async function atMost(ms: number, promise: Promise<unknown>): Promise<void> {
  await within(ms, promise, "closing").catch(() => {});
}
