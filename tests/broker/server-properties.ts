/** Where a broker listens and what it says of itself; everything else is the same for every test broker. */
export interface ServerPlace {
  /** Address that the server binds. */
  bind: string;
  port: number;
  controllerPort: number;
  /** Address and port under which clients reach it. */
  advertised: string;
  data: string;
  /** Port of a second, unencrypted listener on this machine only, for a broker whose clients must say who they are. */
  internalPort: number;
  secured: boolean;
  /** Overrides and additions of a test. */
  properties?: Readonly<Record<string, string>>;
}

/** One broker that is its own controller, as small and as quick to start as it gets. */
export function serverProperties(place: ServerPlace): string {
  const properties: Record<string, string> = {
    "process.roles": "broker,controller",
    "node.id": "1",
    "controller.quorum.voters": `1@127.0.0.1:${place.controllerPort}`,
    listeners: `CLIENT://${place.bind}:${place.port},INTERNAL://127.0.0.1:${place.internalPort},CONTROLLER://127.0.0.1:${place.controllerPort}`,
    "advertised.listeners": `CLIENT://${place.advertised},INTERNAL://127.0.0.1:${place.internalPort}`,
    "inter.broker.listener.name": "INTERNAL",
    "controller.listener.names": "CONTROLLER",
    "listener.security.protocol.map": `CONTROLLER:PLAINTEXT,INTERNAL:PLAINTEXT,CLIENT:${place.secured ? "SASL_SSL" : "PLAINTEXT"}`,
    "log.dirs": place.data,
    "auto.create.topics.enable": "false",
    // A killed broker may register again only when its old session is over.
    "broker.heartbeat.interval.ms": "200",
    "broker.session.timeout.ms": "1000",
    "initial.broker.registration.timeout.ms": "30000",
    "num.network.threads": "1",
    "num.io.threads": "2",
    "offsets.topic.num.partitions": "5",
    "offsets.topic.replication.factor": "1",
    "transaction.state.log.num.partitions": "5",
    "transaction.state.log.replication.factor": "1",
    "transaction.state.log.min.isr": "1",
    "share.coordinator.state.topic.replication.factor": "1",
    "share.coordinator.state.topic.min.isr": "1",
    "group.initial.rebalance.delay.ms": "0",
    "group.min.session.timeout.ms": "1000",
    "log.cleaner.dedupe.buffer.size": "2097152",
    "transaction.abort.timed.out.transaction.cleanup.interval.ms": "1000",
    ...place.properties,
  };
  return Object.entries(properties)
    .map(([name, value]) => `${name}=${value.replaceAll("\\", "\\\\").replaceAll("\n", "\\n")}\n`)
    .join("");
}

export const KAFKA_VERSION = "4.1.1";

/** Any 16 bytes will do; a data folder belongs to one cluster. */
export const CLUSTER_ID = "YmVhcmluZy1yaXNlLXRlcw";

/** A test broker needs little; the rest of the machine is for what is tested. */
export const JVM_FLAGS = [
  "-Xms256m",
  "-Xmx384m",
  "-XX:+UseSerialGC",
  "-XX:TieredStopAtLevel=1",
  "-Dorg.slf4j.simpleLogger.defaultLogLevel=warn",
];
