import type { Equipment } from "../feed/record.ts";
import type { Track } from "../line/railroad.ts";

/** What a name in `expects` asks to be proved. */
export type TestDevice =
  | { what: "bearing" | "wheel"; side: "left" | "right" }
  | { what: "dragging" | "high" | "wide"; side: "left" | "right" | null }
  | { what: "transducer"; number: 1 | 2 }
  | { what: "axles"; count: number | null }
  | { what: "direction"; direction: "rising" | "falling" }
  | { what: "announcement" }
  | { what: "unknown" };

/**
 * Names of devices, with or without their track in front: `1/left` a bearing scanner, `1/wheel-left` a wheel scanner, `dragging`,
 * `high-left`, `wide-right`, `transducer-1`; and of the simulated train `axles-8` its count, `direction-rising` its direction,
 * and `announcement` what the crew is told.
 */
export function testDevice(name: string, track: string): TestDevice {
  const local = name.startsWith(`${track}/`) ? name.slice(track.length + 1) : name;
  if (name.includes("/") && local === name) return { what: "unknown" };
  const parts = /^(?:(left|right)(?:-(bearing|wheel))?|(bearing|wheel|dragging|high|wide)(?:-(left|right))?)$/.exec(local);
  if (parts !== null) {
    const what = (parts[2] ?? parts[3] ?? "bearing") as "bearing" | "wheel" | "dragging" | "high" | "wide";
    const side = (parts[1] ?? parts[4] ?? null) as "left" | "right" | null;
    if (what === "bearing" || what === "wheel") return side === null ? { what: "unknown" } : { what, side };
    return { what, side };
  }
  if (local === "transducer-1" || local === "transducer-2") return { what: "transducer", number: local.endsWith("1") ? 1 : 2 };
  if (local === "direction-rising" || local === "direction-falling")
    return { what: "direction", direction: local.endsWith("rising") ? "rising" : "falling" };
  if (local === "announcement") return { what: "announcement" };
  const axles = /^axles-(\d{1,3})$/.exec(local);
  if (axles !== null) return { what: "axles", count: Number(axles[1]) };
  return local === "simulated-train" ? { what: "axles", count: null } : { what: "unknown" };
}

/** What is proved when the begin of a test names nothing: everything that every site has. */
export function usualDevices(track: Track): string[] {
  const scanners = [`${track.id}/left`, `${track.id}/right`];
  if (track.wheel) scanners.push(`${track.id}/wheel-left`, `${track.id}/wheel-right`);
  return [...scanners, "dragging", "transducer-1", "transducer-2", "announcement"];
}

/** Whether a report is the message of such a device, whatever its side. */
export function isMessageOf(device: TestDevice, report: Equipment): boolean {
  switch (device.what) {
    case "bearing":
      return report.kind === "hot-bearing";
    case "wheel":
      return report.kind === "hot-wheel";
    case "dragging":
    case "high":
    case "wide":
      return report.kind === device.what;
    default:
      return false;
  }
}
