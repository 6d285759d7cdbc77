import type { ConnectionOptions } from "node:tls";
import type { SASLOptions } from "kafkajs";
import { type Broker, startBroker } from "../../broker/broker.ts";
import { makeCertificates } from "../../broker/certificates.ts";

export interface Secured {
  broker: Broker;
  tls: ConnectionOptions;
  admin: SASLOptions;
}

/** Passwords of the test's users: name -> password. */
export const PASSWORDS = {
  admin: "admin-only-4-test",
  live: "live-only-4-test",
  topics: "topics-only-4-test",
  sender: "sender-only-4-test",
  plain: "plain-only-4-test",
} as const;

/** A broker that takes clients only over TLS and by name and password, and lets nobody do what no ACL allows. */
export async function startSecured(): Promise<Secured> {
  const { ca, key, cert } = await makeCertificates();
  // The name in the certificate: a container is reached under an address of the engine's choice.
  const tls: ConnectionOptions = { ca, servername: "localhost", rejectUnauthorized: true };
  const admin: SASLOptions = { mechanism: "scram-sha-512", username: "admin", password: PASSWORDS.admin };
  const scram = (["admin", "live", "topics", "sender"] as const).flatMap((name) => [
    "--add-scram",
    `SCRAM-SHA-512=[name=${name},password=${PASSWORDS[name]}]`,
    "--add-scram",
    `SCRAM-SHA-256=[name=${name},password=${PASSWORDS[name]}]`,
  ]);
  const broker = await startBroker({
    own: true,
    secured: { ssl: tls, sasl: admin },
    format: scram,
    properties: {
      "ssl.keystore.type": "PEM",
      "ssl.keystore.key": key,
      "ssl.keystore.certificate.chain": cert,
      "sasl.enabled.mechanisms": "SCRAM-SHA-512,SCRAM-SHA-256,PLAIN",
      "listener.name.client.scram-sha-512.sasl.jaas.config": "org.apache.kafka.common.security.scram.ScramLoginModule required;",
      "listener.name.client.scram-sha-256.sasl.jaas.config": "org.apache.kafka.common.security.scram.ScramLoginModule required;",
      "listener.name.client.plain.sasl.jaas.config": `org.apache.kafka.common.security.plain.PlainLoginModule required user_plain="${PASSWORDS.plain}";`,
      "authorizer.class.name": "org.apache.kafka.metadata.authorizer.StandardAuthorizer",
      // The broker itself comes over its internal listener without a name.
      "super.users": "User:admin;User:ANONYMOUS",
      "allow.everyone.if.no.acl.found": "false",
    },
  });
  return { broker, tls, admin };
}
