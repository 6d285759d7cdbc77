import type { Pass } from "./pass.ts";
import { GRID, headOfPass, tagsOfPass } from "./pass-record.ts";
import type { Vehicle } from "./vehicle.ts";

/** Longest text of a number of a column, its comma included: a double prints in 24 characters at most. */
const NUMBER_BYTES = 25;
/** A vehicle's text without its id and its trucks: names of fields, and numbers. */
const VEHICLE_BYTES = 256;
const FIRST_ROOM = 64 * 1024;

/** Numbers up to here are written digit by digit. */
const PLAIN_MOST = 1e9;

const NULL = Buffer.from("null");
const CAR = Buffer.from('{"kind":"car","ordinal":');
const LOCOMOTIVE = Buffer.from('{"kind":"locomotive","ordinal":');
const ORDINAL_OF_KIND = Buffer.from(',"ordinalOfKind":');
const FIRST_ROW = Buffer.from(',"firstRow":');
const AXLES = Buffer.from(',"axles":');
const TRUCKS = Buffer.from(',"trucks":[');
const ID = Buffer.from('],"id":');
const CONFIDENCE = Buffer.from(',"confidence":');
const ZERO = 48;
const COMMA = 44;
const MINUS = 45;
const DOT = 46;
const OPENED = 91;
const CLOSED = 93;
const BRACE = 125;

/**
 * JSON of a pass as it is published, as bytes: the very bytes of `JSON.stringify(recordOfPass(pass))`, which a test holds
 * it to, without an array or a string for a column. A bearing's pass is written once and read often; columns are most of it.
 */
export class PassText {
  private bytes: Buffer = Buffer.allocUnsafeSlow(FIRST_ROOM);
  private at = 0;

  /** A copy of its own, good for ever. */
  of(pass: Pass): Buffer {
    this.at = 0;
    const { bearingRiseF, wheelRiseF } = pass;
    // Without its last brace; what follows comes in the contract's order.
    this.text(JSON.stringify(headOfPass(pass)).slice(0, -1));
    this.text(',"vehicles":[');
    for (let k = 0; k < pass.vehicles.length; k++) this.vehicle(pass.vehicles[k]!, k > 0);
    this.text('],"ms":');
    this.milliseconds(pass.ms);
    this.text(',"gap":');
    this.column(pass.gapInches);
    this.text(',"speed":');
    this.column(pass.speedMph);
    for (const rail of [0, 1] as const) {
      this.text(rail === 0 ? ',"left":{"bearing":' : '},"right":{"bearing":');
      this.column(bearingRiseF[rail]);
      this.text(',"wheel":');
      if (wheelRiseF === null) this.text("null");
      else this.column(wheelRiseF[rail]);
    }
    this.text(`},"tags":${JSON.stringify(tagsOfPass(pass))}}`);
    return Buffer.from(this.bytes.subarray(0, this.at));
  }

  private vehicle({ kind, ordinal, ordinalOfKind, firstRow, axles, trucks, id, confidence, odd }: Vehicle, isNext: boolean): void {
    this.room(VEHICLE_BYTES + trucks.length * NUMBER_BYTES);
    if (isNext) this.bytes[this.at++] = COMMA;
    this.literal(kind === "car" ? CAR : LOCOMOTIVE);
    this.number(ordinal);
    this.literal(ORDINAL_OF_KIND);
    this.number(ordinalOfKind);
    this.literal(FIRST_ROW);
    this.number(firstRow);
    this.literal(AXLES);
    this.number(axles);
    this.literal(TRUCKS);
    for (let k = 0; k < trucks.length; k++) {
      if (k > 0) this.bytes[this.at++] = COMMA;
      this.number(trucks[k]!);
    }
    this.literal(ID);
    if (id === null) this.literal(NULL);
    else this.text(JSON.stringify(id));
    this.room(VEHICLE_BYTES);
    this.literal(CONFIDENCE);
    this.number(confidence);
    if (odd !== undefined) this.text(`,"odd":"${odd}"`);
    this.bytes[this.at++] = BRACE;
  }

  /** A column on the grid; a float32 there is off by less than it takes to mistake one step for the next. */
  private column(values: Float32Array): void {
    this.room(values.length * NUMBER_BYTES + 2);
    this.bytes[this.at++] = OPENED;
    for (let i = 0; i < values.length; i++) {
      if (i > 0) this.bytes[this.at++] = COMMA;
      const value = values[i]!;
      if (Number.isNaN(value)) this.literal(NULL);
      else this.hundredths(Math.round(value * GRID));
    }
    this.bytes[this.at++] = CLOSED;
  }

  private milliseconds(values: Float64Array): void {
    this.room(values.length * NUMBER_BYTES + 2);
    this.bytes[this.at++] = OPENED;
    for (let i = 0; i < values.length; i++) {
      if (i > 0) this.bytes[this.at++] = COMMA;
      const value = values[i]!;
      if (Number.isNaN(value)) this.literal(NULL);
      else this.number(value);
    }
    this.bytes[this.at++] = CLOSED;
  }

  /** Any number as JSON has it. */
  private number(value: number): void {
    const hundredths = Math.round(value * GRID);
    if (hundredths / GRID === value) this.hundredths(hundredths);
    else this.at += this.bytes.write(String(value), this.at, "latin1");
  }

  /** A number of hundredths as JSON has it: no zeros at the end, no sign of a zero. */
  private hundredths(value: number): void {
    let rest = value < 0 ? -value : value;
    if (!(rest < PLAIN_MOST)) {
      this.at += this.bytes.write(String(value / GRID), this.at, "latin1");
      return;
    }
    if (value < 0) this.bytes[this.at++] = MINUS;
    const whole = (rest / GRID) | 0;
    rest -= whole * GRID;
    this.digits(whole);
    if (rest === 0) return;
    const tenths = (rest / 10) | 0;
    this.bytes[this.at++] = DOT;
    this.bytes[this.at++] = ZERO + tenths;
    if (rest !== tenths * 10) this.bytes[this.at++] = ZERO + rest - tenths * 10;
  }

  private digits(value: number): void {
    let length = 1;
    for (let power = 10; value >= power; power *= 10) length++;
    let rest = value;
    for (let at = this.at + length - 1; at >= this.at; at--) {
      const next = (rest / 10) | 0;
      this.bytes[at] = ZERO + rest - next * 10;
      rest = next;
    }
    this.at += length;
  }

  /** A few bytes, for which there is room: a loop is quicker than a call to copy them. */
  private literal(literal: Buffer): void {
    for (let i = 0; i < literal.length; i++) this.bytes[this.at + i] = literal[i]!;
    this.at += literal.length;
  }

  private text(text: string): void {
    // Three bytes a character at most.
    this.room(text.length * 3);
    this.at += this.bytes.write(text, this.at, "utf8");
  }

  private room(bytes: number): void {
    if (this.bytes.length - this.at >= bytes) return;
    const wider = Buffer.allocUnsafeSlow(2 * (this.at + bytes));
    this.bytes.copy(wider, 0, 0, this.at);
    this.bytes = wider;
  }
}
