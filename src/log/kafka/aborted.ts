/** A record as kafkajs decodes it, as far as transactions go. */
export interface FetchedRecord {
  offset: string;
  key: Uint8Array | null;
  isControlRecord?: boolean;
  batchContext?: { producerId: string; inTransaction: boolean };
}

/** One partition of an answer to a fetch. */
export interface Fetched {
  messages: FetchedRecord[];
  abortedTransactions?: { producerId: string; firstOffset: string }[] | null;
}

/** Version 0 and type 0: the key of the control record that ends a transaction without its records. */
function isAbortMarker({ key }: FetchedRecord): boolean {
  return key !== null && key.length === 4 && key[0] === 0 && key[1] === 0 && key[2] === 0 && key[3] === 0;
}

/**
 * Marks the records of aborted transactions as control records, which no reader is handed and which still count as read. As
 * Kafka's protocol says: a transaction is open from its first offset to its producer's next abort marker, however many of
 * them overlap. The list is emptied, so that nobody goes by it again.
 */
export function markAborted(partition: Fetched): void {
  const { abortedTransactions: aborted, messages } = partition;
  if (aborted === undefined || aborted === null || aborted.length === 0) return;
  const begins = aborted.map(({ producerId, firstOffset }) => ({ producerId, at: Number(firstOffset) })).sort((a, b) => a.at - b.at);
  const open = new Set<string>();
  let next = 0;
  for (const message of messages) {
    const offset = Number(message.offset);
    for (; next < begins.length && begins[next]!.at <= offset; next++) open.add(begins[next]!.producerId);
    const { batchContext } = message;
    if (batchContext === undefined) continue;
    if (message.isControlRecord === true) {
      if (isAbortMarker(message)) open.delete(batchContext.producerId);
    } else if (batchContext.inTransaction && open.has(batchContext.producerId)) message.isControlRecord = true;
  }
  partition.abortedTransactions = [];
}
