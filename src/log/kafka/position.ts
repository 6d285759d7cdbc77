import type { Position, Source } from "../log.ts";
import { type Cluster, whole } from "./cluster.ts";
import { positionsGroup } from "./settings.ts";
import { UNDER_WAY } from "./stable-offsets.ts";

/** Kafka keeps a short text with a committed offset: the re-fold's start goes in there, so both commit together. */
const REFOLD = /^refold-from=(\d+)$/;

export function metadataOf({ refoldFrom }: Position): string {
  return `refold-from=${refoldFrom}`;
}

/**
 * The committed position of a source, once the owner before was fenced. A commit still under way is waited for: the broker is
 * asked for stable offsets (`stable-offsets.ts`). Without any, the first record there is.
 */
export async function committedPosition(cluster: Cluster, { stage, topic, partition }: Source): Promise<Position> {
  const asked = { groupId: positionsGroup(cluster.settings, stage), topics: [cluster.nameOf(topic)] };
  const count = await cluster.partitions(topic);
  // Being told nothing is not being told that there is none: that would fold everything a second time.
  const found = await cluster.ask(`the position of ${stage}/${topic}/${partition}`, async (admin) => {
    const told = whole(
      (await admin.fetchOffsets(asked)).flatMap(({ partitions }) => partitions),
      count,
    );
    // Of another partition it does not matter.
    if (told.some((one) => one.partition === partition && one.offset === UNDER_WAY)) throw new Error("a commit is still under way");
    return told;
  });
  const committed = found.find((one) => one.partition === partition);
  if (committed === undefined) throw new Error(`the cluster did not say where ${stage}/${topic}/${partition} stands`);
  const position = Number(committed.offset);
  if (position < 0) {
    const { from } = (await cluster.extent(topic))[partition]!;
    return { position: from, refoldFrom: from };
  }
  const refold = REFOLD.exec(committed.metadata ?? "")?.[1];
  if (refold === undefined) {
    throw new Error(
      `the position ${position} of ${stage}/${topic}/${partition} was committed by another program (its note: ${committed.metadata ?? "none"}). Give the offset back with kafka-consumer-groups.sh --reset-offsets --delete-offsets, or use another application name.`,
    );
  }
  return { position, refoldFrom: Number(refold) };
}
