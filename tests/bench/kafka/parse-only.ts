import { Kafka, logLevel } from "kafkajs";

/**
 * The yardstick, in a process of its own: a plain kafkajs consumer that reads a topic, read-committed, and parses every
 * record. Arguments: broker, topic, records. Prints the seconds from its first batch to its last record, and its CPU seconds.
 */
const [broker, topic, records] = process.argv.slice(2);
const kafka = new Kafka({ brokers: [broker!], logLevel: logLevel.NOTHING });
const consumer = kafka.consumer({ groupId: `parse-only-${Date.now()}`, maxWaitTimeInMs: 100 });
await consumer.connect();
await consumer.subscribe({ topic: topic!, fromBeginning: true });
let left = Number(records);
let fromMs = 0;
let cpu = process.cpuUsage();
const done = Promise.withResolvers<void>();
await consumer.run({
  autoCommit: false,
  eachBatch: async ({ batch }) => {
    if (fromMs === 0) {
      fromMs = performance.now();
      cpu = process.cpuUsage();
    }
    for (const { value } of batch.messages) JSON.parse(value!.toString());
    left -= batch.messages.length;
    if (left <= 0) done.resolve();
  },
});
await done.promise;
const { user, system } = process.cpuUsage(cpu);
console.log(JSON.stringify({ seconds: (performance.now() - fromMs) / 1_000, cpuSeconds: (user + system) / 1e6 }));
process.exit(0);
