import { execFile } from "node:child_process";
import { mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";

const run = promisify(execFile);

export interface Certificates {
  ca: string;
  key: string;
  cert: string;
}

/** A certificate authority of its own and a certificate of it for a broker on this machine, both good for a day. */
export async function makeCertificates(): Promise<Certificates> {
  const folder = await mkdtemp(join(tmpdir(), "certificates-"));
  const at = (name: string) => join(folder, name);
  const openssl = (...words: string[]) => run("openssl", words);
  try {
    await openssl(
      "req",
      "-x509",
      "-newkey",
      "rsa:2048",
      "-nodes",
      "-days",
      "1",
      "-subj",
      "/CN=test authority",
      "-keyout",
      at("ca.key"),
      "-out",
      at("ca.pem"),
    );
    await openssl("req", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=test broker", "-keyout", at("key.pem"), "-out", at("broker.csr"));
    await writeFile(at("names"), "subjectAltName=DNS:localhost,IP:127.0.0.1");
    const signed = ["x509", "-req", "-days", "1", "-in", at("broker.csr"), "-CA", at("ca.pem"), "-CAkey", at("ca.key"), "-CAcreateserial"];
    await openssl(...signed, "-extfile", at("names"), "-out", at("cert.pem"));
    // Kafka wants PKCS #8, which is what openssl 3 writes; older ones are made to.
    await openssl("pkcs8", "-topk8", "-nocrypt", "-in", at("key.pem"), "-out", at("key8.pem"));
    const [ca, key, cert] = await Promise.all(["ca.pem", "key8.pem", "cert.pem"].map((name) => readFile(at(name), "utf8")));
    return { ca: ca!, key: key!, cert: cert! };
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}
