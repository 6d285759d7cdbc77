import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { builtinModules } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { describe, expect, test } from "vitest";
import { parse, parseAllDocuments } from "yaml";
import { type LiveConfig, loadConfig } from "../../src/live/config.ts";
import { SWITCH_PORT } from "../../src/telemetry/dead-mans-switch.ts";
import { TELEMETRY_PORT } from "../../src/telemetry/server.ts";
import { DEPLOY } from "./deployed.ts";
import { withProgram } from "./programs.ts";

const ROOT = fileURLToPath(new URL("../../", import.meta.url));
const text = (path: string) => readFileSync(ROOT + path, "utf8");

interface Service {
  image: string;
  entrypoint?: string[];
  command?: string[];
  build?: { context: string; dockerfile: string };
  volumes?: string[];
  ports?: string[];
  depends_on?: string[] | Record<string, { condition: string }>;
  environment?: Record<string, string>;
  restart?: string;
  healthcheck?: object;
}

withProgram("docker-compose", () => {
  test("takes docker-compose.yml, and fills in what it leaves open", { timeout: 60_000 }, () => {
    const { status, stdout, stderr } = spawnSync("docker-compose", ["-f", "docker-compose.yml", "config"], { cwd: ROOT, encoding: "utf8" });
    expect(status, stderr).toBe(0);
    const { services } = parse(stdout) as { services: Record<string, Service> };
    expect(Object.keys(services)).toEqual(
      expect.arrayContaining(["kafka", "topics", "bearing-rise", "prometheus", "alertmanager", "grafana"]),
    );
    for (const { image } of Object.values(services)) expect(image).not.toContain("$");
  });
});

describe("docker-compose.yml", () => {
  const source = text("docker-compose.yml");
  const compose = parse(source, { merge: true }) as { services: Record<string, Service>; volumes: Record<string, unknown> };
  const services = Object.entries(compose.services);

  test.each(services)("%s mounts only what is there", (_, { volumes = [] }) => {
    for (const mount of volumes) {
      const [from = ""] = mount.split(":");
      if (from.startsWith("./")) expect(existsSync(ROOT + from), from).toBe(true);
      else expect(Object.keys(compose.volumes)).toContain(from);
    }
  });

  test.each(services)("%s waits only for services that are there, and as they can be waited for", (_, { depends_on = [] }) => {
    const waited = Array.isArray(depends_on) ? depends_on.map((name) => [name, null] as const) : Object.entries(depends_on);
    for (const [name] of waited) expect(Object.keys(compose.services)).toContain(name);
  });

  test.each(services)("%s is open to this machine only", (_, { ports = [] }) => {
    for (const port of ports) expect(port).toMatch(/^127\.0\.0\.1:\d+:\d+$/);
  });

  test.each(services)("%s has an image of a stated version, or ours", (_, { image }) => {
    if (image === "bearing-rise") return;
    expect(image).toMatch(/^\$\{[A-Z_]+:-[a-z/-]+:v?\d+\.\d+\.\d+\}$/);
  });

  test.each(services)("%s has a health check that suits it", (_, { image, command = [], restart, healthcheck }) => {
    // What is not started again ends by itself; the image's own check is that of `live`.
    if (image !== "bearing-rise" || restart === undefined || command[0] === "live") return;
    expect(healthcheck).toBeDefined();
  });

  test("the configuration is one that the process takes, and it listens where the ports are published", () => {
    const config = taken(text("deploy/compose/live.yaml"));
    const published = (compose.services["bearing-rise"]?.ports ?? []).map((port) => Number(port.split(":").at(-1)));
    expect(published.sort()).toEqual([config.desk?.port, config.feed.http?.port, config.telemetry.port].sort());
    for (const host of [config.desk?.host, config.feed.http?.host, config.telemetry.host]) expect(host).toBe("0.0.0.0");
    const mounted = (compose.services["bearing-rise"]?.volumes ?? []).map((mount) => mount.split(":")[1] ?? "");
    for (const place of [config.railroad.line, config.railroad.rules, config.dataFolder, config.desk?.users ?? ""]) {
      expect(
        mounted.some((folder) => place.startsWith(folder)),
        place,
      ).toBe(true);
    }
  });

  test("the token that senders show when none is set is the one that is taken", () => {
    const [, token = ""] = /FEED_TOKEN: \$\{FEED_TOKEN:-([^}]+)\}/.exec(source) ?? [];
    const [taker] = taken(text("deploy/compose/live.yaml")).feed.http?.tokens ?? [];
    expect(taker?.sha256).toBe(createHash("sha256").update(token).digest("hex"));
  });

  test("what our image is told to do is what the program takes", () => {
    const told = services.filter(([, { image, entrypoint }]) => image === "bearing-rise" && entrypoint === undefined);
    expect(told.map(([name]) => name)).toEqual(["topics", "bearing-rise", "feed"]);
    for (const [, { command = [] }] of told) {
      const [name = "", ...options] = command;
      const { stdout } = spawnSync(process.execPath, [`${ROOT}src/main.ts`, name, "--help"], { encoding: "utf8" });
      expect(stdout).toContain(`bearing-rise ${name} `);
      for (const option of options.filter((one) => one.startsWith("--"))) expect(stdout).toContain(`${option.split("=")[0]} `);
    }
  });

  test("one service builds our image, from a file that is there", () => {
    const building = services.flatMap(([, { build }]) => (build === undefined ? [] : [build]));
    expect(building).toHaveLength(1);
    for (const { context, dockerfile } of building) expect(existsSync(`${ROOT}${context}/${dockerfile}`)).toBe(true);
  });

  test("every variable that can be set is said in its head", () => {
    const head = source.split("\n").filter((line) => line.startsWith("#"));
    for (const [, name = ""] of source.matchAll(/\$\{([A-Z_]+)/g)) {
      expect(
        head.some((line) => new RegExp(`^#\\s+${name}\\s+\\S`).test(line)),
        name,
      ).toBe(true);
    }
  });

  test("addresses in the configurations are those of its services", () => {
    const names = Object.keys(compose.services);
    const addresses = [
      text("deploy/prometheus/prometheus.yml"),
      text("deploy/alertmanager/alertmanager.yml"),
      text("deploy/grafana/provisioning/datasources/prometheus.yml"),
    ].flatMap((file) => [...file.matchAll(/([a-z-]+):(\d{4,5})\b/g)].map(([, host = "", port = ""]) => ({ host, port: Number(port) })));
    const ports: Record<string, number> = {
      "bearing-rise": TELEMETRY_PORT,
      "dead-mans-switch": SWITCH_PORT,
      prometheus: 9_090,
      alertmanager: 9_093,
      localhost: 9_090,
    };
    expect(addresses.length).toBeGreaterThan(5);
    for (const { host, port } of addresses) {
      if (host !== "localhost") expect(names).toContain(host);
      expect({ host, port }).toEqual({ host, port: ports[host] });
    }
  });

  test("what is mounted into Grafana is where its provisioning looks", () => {
    const { path } = (
      parse(text("deploy/grafana/provisioning/dashboards/bearing-rise.yml")) as { providers: { options: { path: string } }[] }
    ).providers[0]!.options;
    expect(compose.services["grafana"]?.volumes).toContain(`./deploy/grafana/dashboards:${path}:ro`);
    const home = compose.services["grafana"]?.environment?.["GF_DASHBOARDS_DEFAULT_HOME_DASHBOARD_PATH"] ?? "";
    expect(existsSync(home.replace(path, `${DEPLOY}grafana/dashboards`))).toBe(true);
  });
});

describe("deploy/Dockerfile", () => {
  const lines = text("deploy/Dockerfile").split("\n");

  test("copies only what is there and what the ignore file lets through", () => {
    const let_ = text("deploy/Dockerfile.dockerignore")
      .split("\n")
      .filter((line) => line.startsWith("!"));
    for (const line of lines.filter((one) => /^COPY (?!--from)/.test(one))) {
      for (const from of line.split(" ").slice(1, -1)) {
        expect(existsSync(ROOT + from), from).toBe(true);
        expect(let_).toContain(`!${from}`);
      }
    }
  });

  test("runs without root, as one process, and asks itself how it is", () => {
    expect(lines.findLast((line) => line.startsWith("USER "))).toBe("USER node");
    expect(lines.find((line) => line.startsWith("ENTRYPOINT "))).toMatch(/^ENTRYPOINT \["node", .*"src\/main\.ts"\]$/);
    expect(lines.join("\n")).toMatch(/HEALTHCHECK[\s\S]*\/health\/live/);
    expect(lines.join("\n")).toContain(`127.0.0.1:${TELEMETRY_PORT}`);
  });

  test("starts Node as the command does", () => {
    const flags = /const flags = (\[[^\]]+\])/.exec(text("src/bearing-rise.js"))?.[1] ?? "";
    for (const flag of JSON.parse(flags) as string[]) expect(lines.join("\n")).toContain(`"${flag}"`);
  });

  test("every package that src/ needs at run time is installed without the development ones", () => {
    const { dependencies } = JSON.parse(text("package.json")) as { dependencies: Record<string, string> };
    const needed = new Set<string>();
    for (const path of readdirSync(`${ROOT}src`, { recursive: true, encoding: "utf8" })) {
      if (!/\.(ts|tsx|js)$/.test(path) || !statSync(`${ROOT}src/${path}`).isFile()) continue;
      const imports = text(`src/${path}`).matchAll(/^\s*(?:import|export)(?! type\b)[^"';]*?from "([^".][^"]*)"|^import "([^".][^"]*)"/gm);
      for (const [, from = "", bare = ""] of imports) {
        const [scope = "", name = ""] = (from || bare).split("/");
        needed.add(scope.startsWith("@") ? `${scope}/${name}` : scope);
      }
    }
    const ours = [...needed].filter((name) => !name.startsWith("node:") && !builtinModules.includes(name));
    expect(ours).toContain("prom-client");
    expect(ours.filter((name) => !(name in dependencies))).toEqual([]);
  });
});

/** As `live` reads a configuration. @throws with every mistake */
function taken(text: string): LiveConfig {
  const folder = mkdtempSync(join(tmpdir(), "bearing-rise-config-"));
  writeFileSync(join(folder, "live.yaml"), text);
  try {
    return loadConfig(join(folder, "live.yaml"));
  } finally {
    rmSync(folder, { recursive: true });
  }
}

interface Manifest {
  kind: string;
  apiVersion: string;
  metadata: { name: string; labels: Record<string, string> };
  spec: Record<string, unknown>;
  data: Record<string, string>;
}

describe("deploy/kubernetes", () => {
  const folder = `${DEPLOY}kubernetes/`;
  const files = readdirSync(folder);
  const manifests = files
    .filter((name) => name !== "kustomization.yaml")
    .flatMap((name) => parseAllDocuments(readFileSync(folder + name, "utf8")).map((document) => document.toJS() as Manifest));
  const kind = (wanted: string) => manifests.filter((manifest) => manifest.kind === wanted);
  const deployment = kind("Deployment")[0]! as Manifest & { spec: { selector: { matchLabels: object }; template: { spec: PodSpec } } };
  const pod = deployment.spec.template.spec;
  const container = pod.containers[0]!;
  const config = taken(kind("ConfigMap")[0]!.data["live.yaml"] ?? "");

  test("kustomize takes exactly the files that are there", () => {
    const { resources } = parse(readFileSync(`${folder}kustomization.yaml`, "utf8")) as { resources: string[] };
    expect([...resources, "kustomization.yaml"].sort()).toEqual([...files].sort());
  });

  test("the pieces find each other", () => {
    const labels = deployment.spec.selector.matchLabels;
    const ports = container.ports.map(({ name }) => name);
    for (const service of kind("Service") as (Manifest & { spec: { selector: object; ports: { targetPort: string }[] } })[]) {
      expect(service.spec.selector).toEqual(labels);
      for (const { targetPort } of service.spec.ports) expect(ports).toContain(targetPort);
    }
    const budget = kind("PodDisruptionBudget")[0]! as Manifest & { spec: { selector: { matchLabels: object } } };
    expect(budget.spec.selector.matchLabels).toEqual(labels);
    const mounted = container.volumeMounts.map(({ name }) => name);
    expect(pod.volumes.map(({ name }) => name).sort()).toEqual([...mounted].sort());
  });

  test("probes ask what telemetry answers, on its port", () => {
    expect(container.ports.find(({ name }) => name === "telemetry")?.containerPort).toBe(TELEMETRY_PORT);
    const { startupProbe, livenessProbe, readinessProbe } = container;
    expect([startupProbe, livenessProbe, readinessProbe].map(({ httpGet }) => httpGet)).toEqual([
      { path: "/health/live", port: "telemetry" },
      { path: "/health/live", port: "telemetry" },
      { path: "/health/ready", port: "telemetry" },
    ]);
  });

  test("a process may be stopped as long as it takes, holds what it may hold, and writes nowhere but to its data", () => {
    expect(pod.terminationGracePeriodSeconds).toBeGreaterThan(3);
    expect(Object.keys(container.resources)).toEqual(["requests", "limits"]);
    expect(container.securityContext).toMatchObject({ allowPrivilegeEscalation: false, readOnlyRootFilesystem: true });
    expect(pod.securityContext).toMatchObject({ runAsNonRoot: true });
  });

  test("secrets are there by reference only", () => {
    expect(kind("Secret")).toEqual([]);
    expect(container.env).toBeUndefined();
    const { mountPath } = container.volumeMounts.find(({ name }) => name === "secrets")!;
    expect(pod.volumes.find(({ name }) => name === "secrets")).toHaveProperty("secret");
    const { log, desk } = config;
    if (!("kafka" in log)) throw new Error("the manifests are for Kafka");
    expect(log.kafka.sasl?.password).toMatch(new RegExp(`^file:${mountPath}/`));
    expect(log.kafka.tls?.ca).toMatch(new RegExp(`^${mountPath}/`));
    expect(desk?.users).toMatch(new RegExp(`^${mountPath}/`));
  });

  test("the configuration is one that the process takes, and what it names is mounted", () => {
    const places = [config.railroad.line, config.railroad.rules, config.dataFolder, config.desk?.sessions ?? ""];
    for (const place of places)
      expect(
        container.volumeMounts.some(({ mountPath }) => place.startsWith(mountPath)),
        place,
      ).toBe(true);
    const ports = new Map(container.ports.map(({ name, containerPort }) => [name, containerPort]));
    expect(ports).toEqual(
      new Map([
        ["desk", config.desk?.port],
        ["feed", config.feed.http?.port],
        ["telemetry", config.telemetry.port],
      ]),
    );
    // Probes and the monitoring come from outside of the pod.
    for (const host of [config.desk?.host, config.feed.http?.host, config.telemetry.host]) expect(host).toBe("0.0.0.0");
  });
});

interface Probe {
  httpGet: { path: string; port: string };
}

interface PodSpec {
  containers: {
    ports: { name: string; containerPort: number }[];
    env?: unknown;
    volumeMounts: { name: string; mountPath: string }[];
    resources: object;
    securityContext: object;
    startupProbe: Probe;
    livenessProbe: Probe;
    readinessProbe: Probe;
  }[];
  volumes: { name: string }[];
  terminationGracePeriodSeconds: number;
  securityContext: object;
}
