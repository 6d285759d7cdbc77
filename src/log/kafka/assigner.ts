import kafkajs, { AssignerProtocol, type GroupMember, type PartitionAssigner } from "kafkajs";

/** Every member of a group must know the assigner by this name. */
const NAME = "bearing-rise-keeps";
const VERSION = 1;

export interface Owned {
  topic: string;
  partition: number;
}

/** What kafkajs passes an assigner of the cluster; its own type hides it. */
interface ClusterMetadata {
  findTopicPartitionMetadata(topic: string): { partitionId: number }[];
}

/**
 * Shares the partitions evenly, and leaves with each member what it has: a partition that changes hands must be folded
 * again by its new owner, so none moves without need. kafkajs's own assigner deals all of them anew every time.
 */
export function keepingAssigner(owned: () => readonly Owned[], onCluster: (cluster: object) => void): PartitionAssigner {
  return ({ cluster }) => {
    onCluster(cluster);
    return {
      name: NAME,
      version: VERSION,
      protocol: ({ topics }) => ({
        name: NAME,
        metadata: AssignerProtocol.MemberMetadata.encode({ version: VERSION, topics, userData: Buffer.from(JSON.stringify(owned())) }),
      }),
      assign: async ({ members, topics }) => {
        const all = topics.flatMap((topic) => partitionsOf(cluster as unknown as ClusterMetadata, topic));
        const shares = share(all, new Map(members.map((member) => [member.memberId, ownedBy(member)])));
        return [...shares].map(([memberId, mine]) => ({
          memberId,
          memberAssignment: AssignerProtocol.MemberAssignment.encode({
            version: VERSION,
            assignment: byTopic(mine),
            userData: Buffer.alloc(0),
          }),
        }));
      },
    };
  };
}

/**
 * What is not known is not shared as if it were nothing, or nobody would read the topic until the metadata's age brings it
 * up. @throws KafkaJSError one after which kafkajs joins anew
 */
function partitionsOf(cluster: ClusterMetadata, topic: string): Owned[] {
  const partitions = cluster.findTopicPartitionMetadata(topic);
  if (partitions.length === 0) throw new kafkajs.KafkaJSError(`the partitions of ${topic} are not known yet`);
  return partitions.map(({ partitionId }) => ({ topic, partition: partitionId }));
}

/** Everyone keeps what it had up to an even share; the rest goes to whoever has least. The same input gives the same shares. */
export function share(all: readonly Owned[], had: ReadonlyMap<string, readonly Owned[]>): Map<string, Owned[]> {
  const names = [...had.keys()].sort();
  const free = new Map(all.map((one) => [`${one.topic}/${one.partition}`, one]));
  const least = Math.floor(all.length / names.length);
  let withOneMore = all.length % names.length;
  const shares = new Map<string, Owned[]>();
  for (const name of names) {
    const mine: Owned[] = [];
    for (const { topic, partition } of had.get(name)!) {
      const key = `${topic}/${partition}`;
      const kept = free.get(key);
      if (kept === undefined || mine.length > least || (mine.length === least && withOneMore === 0)) continue;
      if (mine.length === least) withOneMore--;
      mine.push(kept);
      free.delete(key);
    }
    shares.set(name, mine);
  }
  for (const one of free.values()) {
    let poorest = shares.get(names[0]!)!;
    for (const mine of shares.values()) if (mine.length < poorest.length) poorest = mine;
    poorest.push(one);
  }
  return shares;
}

function ownedBy({ memberMetadata }: GroupMember): Owned[] {
  try {
    const { userData } = AssignerProtocol.MemberMetadata.decode(memberMetadata)!;
    return JSON.parse(userData.toString("utf8")) as Owned[];
  } catch {
    // A member of another version says nothing: it is dealt to like one that is new.
    return [];
  }
}

function byTopic(mine: readonly Owned[]): Record<string, number[]> {
  const topics: Record<string, number[]> = {};
  for (const { topic, partition } of mine) {
    const partitions = topics[topic] ?? [];
    partitions.push(partition);
    topics[topic] = partitions;
  }
  return topics;
}
