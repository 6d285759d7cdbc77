import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { keepingAssigner, type Owned, share } from "../../../src/log/kafka/assigner.ts";

const key = ({ topic, partition }: Owned) => `${topic}/${partition}`;
const owned = fc.record({ topic: fc.constantFrom("axle-readings", "passes", "gone"), partition: fc.nat(15) });
const partitions = (counts: Record<string, number>): Owned[] =>
  Object.entries(counts).flatMap(([topic, count]) => Array.from({ length: count }, (_, partition) => ({ topic, partition })));
const cluster = fc.record({ "axle-readings": fc.integer({ min: 1, max: 12 }), passes: fc.nat(12) }).map(partitions);
const members = fc.dictionary(fc.constantFrom("a", "b", "c", "d", "e"), fc.array(owned, { maxLength: 20 }), { minKeys: 1 });

describe("partitions shared among members", () => {
  it("are each given once, and no member has two more than another, whatever they say they had", () => {
    fc.assert(
      fc.property(cluster, members, (all, had) => {
        const shares = share(all, new Map(Object.entries(had)));
        expect([...shares.keys()].sort()).toEqual(Object.keys(had).sort());
        expect([...shares.values()].flat().map(key).sort()).toEqual(all.map(key).sort());
        const sizes = [...shares.values()].map(({ length }) => length);
        expect(Math.max(...sizes) - Math.min(...sizes)).toBeLessThanOrEqual(1);
      }),
    );
  });

  it("stay where they are when the members are the same", () => {
    fc.assert(
      fc.property(cluster, members, (all, had) => {
        const first = share(all, new Map(Object.entries(had)));
        expect(share(all, first)).toEqual(first);
      }),
    );
  });

  it("move no more than they must when a member comes or goes", () => {
    fc.assert(
      fc.property(cluster, members, fc.boolean(), (all, had, comes) => {
        const before = share(all, new Map(Object.entries(had)));
        const next = new Map(before);
        const names = [...next.keys()];
        if (comes) next.set("new", []);
        else if (names.length > 1) next.delete(names[0]!);
        const after = share(all, next);
        const least = Math.floor(all.length / next.size);
        for (const [name, mine] of after) {
          const kept = new Set(mine.map(key));
          const lost = (before.get(name) ?? []).filter((one) => !kept.has(key(one))).length;
          expect(lost).toBeLessThanOrEqual(Math.max(0, (before.get(name)?.length ?? 0) - least));
        }
      }),
    );
  });
});

describe("the leader of a group", () => {
  const assignerOver = (known: Record<string, number>) =>
    keepingAssigner(
      () => [],
      () => {},
    )({
      cluster: {
        findTopicPartitionMetadata: (topic: string) => Array.from({ length: known[topic] ?? 0 }, (_, partitionId) => ({ partitionId })),
      } as never,
      groupId: "group",
      logger: {} as never,
    });
  const members = [{ memberId: "a", memberMetadata: Buffer.alloc(0) }];
  const topics = ["axle-readings", "consists"];

  it("shares nothing while it does not know a topic's partitions, so that the group shares anew soon", async () => {
    expect(await assignerOver({ "axle-readings": 2, consists: 1 }).assign({ members, topics })).toHaveLength(1);
    await expect(assignerOver({ "axle-readings": 2 }).assign({ members, topics })).rejects.toMatchObject({
      message: expect.stringContaining("consists"),
      retriable: true,
    });
  });
});
