import * as z from "zod";
import { ambient, device, devices, id, person, type Same, temperature, time } from "./fields.ts";
import { AXLES_A_PASS, DEVICES_A_SITE, EQUIPMENT_VALUE_HIGH, SUPPLY_VOLTS_HIGH, TEMPERATURE_LOW } from "./limits.ts";
import type { Equipment, Fault, FunctionalTest, Heartbeat } from "./record.ts";

/** Schemas of the topic `site-reports`, key `<site>`: what a site says of itself. */

/** A device's self-test. */
const scanner = z.object({ reference: temperature.nullish() });

export const heartbeat = z
  .object({
    type: z.literal("heartbeat"),
    site: id,
    time,
    ambient: ambient.nullish(),
    supplyVolts: z.number().gte(0).lte(SUPPLY_VOLTS_HIGH).nullish(),
    scanners: z
      .record(device, scanner)
      .refine((scanners) => Object.keys(scanners).length <= DEVICES_A_SITE, `at most ${DEVICES_A_SITE} scanners`)
      .optional(),
  })
  .meta({ title: "Heartbeat", description: "The site lives; its self-test references." });

export const fault = z
  .object({ type: z.literal("fault"), site: id, time, device, fault: id, cleared: z.boolean() })
  .meta({ title: "Fault", description: "A device of the site reports a fault, or that it is over." });

export const equipment = z
  .object({
    type: z.literal("equipment"),
    site: id,
    track: id,
    pass: id,
    time,
    kind: z.enum(["hot-bearing", "hot-wheel", "dragging", "high", "wide", "integrity"]),
    axle: z.int().gte(1).lte(AXLES_A_PASS).nullish().meta({ description: "For dragging, high and wide: near that axle." }),
    side: z.enum(["left", "right"]).nullish(),
    value: z.number().gte(TEMPERATURE_LOW).lte(EQUIPMENT_VALUE_HIGH).nullish(),
    announced: z.boolean().meta({ description: "Whether the site told the crew." }),
  })
  .meta({ title: "Equipment", description: "The site's own alarm on a train." });

export const functionalTest = z
  .object({
    type: z.literal("functional-test"),
    site: id,
    track: id,
    time,
    phase: z.enum(["begun", "ended"]),
    tester: person,
    expects: devices.optional(),
  })
  .meta({ title: "FunctionalTest", description: "A test of the site's devices begins or ends; reports between are the test's." });

export const siteReports = { heartbeat, fault, equipment, "functional-test": functionalTest } as const;

true satisfies Same<z.output<typeof heartbeat>, Heartbeat>;
true satisfies Same<z.output<typeof fault>, Fault>;
true satisfies Same<z.output<typeof equipment>, Equipment>;
true satisfies Same<z.output<typeof functionalTest>, FunctionalTest>;
