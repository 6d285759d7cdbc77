import { PackedVehicles } from "./packed-vehicles.ts";
import type { Pass } from "./pass.ts";
import type { Vehicle } from "./vehicle.ts";

const NO_NUMBERS = new Float32Array(0);
const NO_TIMES = new Float64Array(0);
const NO_READINGS: Pass["bearingRiseF"] = [NO_NUMBERS, NO_NUMBERS];

/**
 * A pass that let go of its readings, which somebody else holds packed. Its spacings, speeds and tags stay; its vehicles are
 * packed and unpacked again by whoever asks.
 */
export class PackedPass implements Pass {
  readonly id: string;
  readonly site: string;
  readonly track: string;
  readonly pass: string;
  readonly direction: Pass["direction"];
  readonly begunMs: number;
  readonly endedMs: number;
  readonly ambientF: number;
  readonly train: string | null;
  readonly axles: number;
  readonly axlesSaid: number | null;
  readonly ms = NO_TIMES;
  gapInches: Float32Array;
  speedMph: Float32Array;
  readonly bearingRiseF = NO_READINGS;
  readonly wheelRiseF = null;
  readonly tags: Pass["tags"];
  readonly flags: Pass["flags"];
  readonly clockAheadMs: number | undefined;
  readonly lateMs: number | undefined;
  /** Not copied with the rest of it. */
  readonly #packedVehicles: PackedVehicles;

  /** `like`: a pass of the same train. What is the same in both is held once. */
  constructor(pass: Pass, like: Pass | null = null) {
    this.id = pass.id;
    this.site = pass.site;
    this.track = pass.track;
    this.pass = pass.pass;
    this.direction = pass.direction;
    this.begunMs = pass.begunMs;
    this.endedMs = pass.endedMs;
    this.ambientF = pass.ambientF;
    this.train = pass.train;
    this.axles = pass.axles;
    this.axlesSaid = pass.axlesSaid;
    this.gapInches = pass.gapInches;
    this.speedMph = pass.speedMph;
    this.tags = pass.tags;
    this.flags = pass.flags;
    this.clockAheadMs = pass.clockAheadMs;
    this.lateMs = pass.lateMs;
    this.#packedVehicles = new PackedVehicles(pass.vehicles, like instanceof PackedPass ? like.#packedVehicles : null);
  }

  /** Lets go of spacings and speeds too. */
  slim(): void {
    this.gapInches = NO_NUMBERS;
    this.speedMph = NO_NUMBERS;
  }

  get vehicles(): Vehicle[] {
    return this.#packedVehicles.unpacked();
  }

  get vehicleOfAxle(): Int16Array {
    const indexes = new Int16Array(this.axles).fill(-1);
    for (const [index, { firstRow, axles }] of this.vehicles.entries()) indexes.fill(index, firstRow, firstRow + axles);
    return indexes;
  }
}
