import { setTimeout as sleep } from "node:timers/promises";
import { GenericContainer, getContainerRuntimeClient, type StartedTestContainer, Wait } from "testcontainers";
import { answers } from "./answers.ts";
import type { Broker, BrokerOptions } from "./broker.ts";
import { freePort } from "./jvm-broker.ts";
import { CLUSTER_ID, JVM_FLAGS, KAFKA_VERSION, serverProperties } from "./server-properties.ts";

const PORT = 19_092;
const CONTROLLER_PORT = 19_093;
const INTERNAL_PORT = 19_094;
const FOLDER = "/tmp/broker";
const START = `${FOLDER}-start.sh`;
const RESTART_TRIES = 20;
const RESTART_PAUSE_MS = 250;

/**
 * A broker in a container. Its address is known only once the container runs, and must be known to the server before it
 * starts: so the container waits for its start script, which is copied in with the address.
 */
export async function startContainerBroker(options: BrokerOptions): Promise<Broker> {
  const image = process.env["KAFKA_IMAGE"] ?? `apache/kafka:${KAFKA_VERSION}`;
  // The host's port is fixed, for a container that is started again would get another one.
  const port = await freePort();
  const container = await new GenericContainer(image)
    .withEntrypoint(["sh", "-c", `echo waiting; while [ ! -f ${START} ]; do sleep 0.1; done; exec sh ${START}`])
    .withExposedPorts({ container: PORT, host: port })
    .withWaitStrategy(Wait.forLogMessage("waiting"))
    .withStartupTimeout(180_000)
    .start();
  const address = `${container.getHost()}:${container.getMappedPort(PORT)}`;
  try {
    await container.copyContentToContainer([{ content: startScript(address, options), target: START }]);
    await answers(address, () => null, options.secured);
  } catch (error) {
    const log = await lastLines(container);
    await container.stop();
    throw new Error(`the broker in ${image} did not start: ${String(error)}\n${log}`);
  }
  const { container: engine } = await getContainerRuntimeClient();
  const handle = engine.getById(container.getId());
  return {
    kind: "container",
    brokers: [address],
    kill: async () => {
      await handle.kill({ signal: "SIGKILL" });
    },
    start: async () => {
      for (let tried = 1; ; tried++) {
        try {
          await handle.start();
          break;
        } catch (error) {
          // The engine needs a moment to notice that the container is gone and its port free.
          if (tried === RESTART_TRIES) throw error;
          await sleep(RESTART_PAUSE_MS);
        }
      }
      await answers(address, () => null, options.secured);
    },
    stop: async () => {
      await container.stop();
    },
  };
}

function startScript(address: string, options: BrokerOptions): string {
  const properties = serverProperties({
    bind: "0.0.0.0",
    port: PORT,
    controllerPort: CONTROLLER_PORT,
    internalPort: INTERNAL_PORT,
    advertised: address,
    data: `${FOLDER}/data`,
    secured: options.secured !== undefined,
    properties: options.properties ?? {},
  });
  const format = (options.format ?? []).map((word) => `'${word}'`).join(" ");
  return `set -e
export PATH="$PATH:/opt/java/openjdk/bin"
mkdir -p ${FOLDER}
cat >${FOLDER}/server.properties <<'END'
${properties}END
if [ ! -d ${FOLDER}/data ]; then
  java -cp '/opt/kafka/libs/*' kafka.tools.StorageTool format -t ${CLUSTER_ID} -c ${FOLDER}/server.properties ${format}
fi
exec java ${JVM_FLAGS.join(" ")} -cp '/opt/kafka/libs/*' kafka.Kafka ${FOLDER}/server.properties
`;
}

async function lastLines(container: StartedTestContainer): Promise<string> {
  const lines: string[] = [];
  const stream = await container.logs({ tail: 40 });
  stream.on("data", (line: unknown) => lines.push(String(line)));
  await sleep(500);
  stream.destroy();
  return lines.join("");
}
