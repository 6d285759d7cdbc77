import * as z from "zod";
import { deskAction } from "../feed/desk-actions.ts";
import { device, id, madeId, person, text, time } from "../feed/fields.ts";
import type { DeskAction } from "../feed/record.ts";
import { ActionLog } from "./action-log.ts";
import type { Row } from "./board/row.ts";
import type { WarningCase } from "./board/warning-case.ts";
import type { Desk } from "./desk.ts";
import { may, type Person } from "./people/role.ts";
import { Refused } from "./refused.ts";
import { actionWords } from "./views/action-words.ts";

/** What a page sends for an action; who and when are the server's to say. */
export const actRequest = z
  .strictObject({
    id: madeId.meta({ description: "Made by the page, once: sending it again does not act again." }),
    action: z.enum(["acknowledge", "assign", "note", "found", "shelve", "unshelve", "out-of-service", "return-to-service"]),
    warning: madeId.optional(),
    site: id.optional(),
    condition: madeId.optional(),
    device: device.optional(),
    to: person.optional(),
    text: text.optional(),
    found: z.enum(["defect-confirmed", "nothing-found", "wheel-or-brake", "not-inspected"]).optional(),
    until: time.optional(),
    done: z.enum(["told-crew", "train-stopped", "set-out"]).optional(),
    heatStick: z.enum(["melted", "not-melted", "not-used"]).optional(),
    seen: z.strictObject({ version: z.int().gte(0), actions: z.int().gte(0) }).optional(),
  })
  .meta({ title: "Act", description: "Something a person did about a warning or a site." });
export type ActRequest = z.infer<typeof actRequest>;

const HOUR_MS = 3_600_000;

/** Takes actions of people: what the second of two sees is what the first left, at this desk or at another one. */
export class Acting {
  private readonly desk: Desk;
  private readonly actions: ActionLog;

  constructor(desk: Desk) {
    this.desk = desk;
    this.actions = new ActionLog(desk);
  }

  /** Takes the action down and answers with the row as it then stands. @throws Refused */
  async take(request: ActRequest, by: Person): Promise<{ repeated: boolean; row: Row | null }> {
    const subject = request.warning ?? request.site;
    if (subject === undefined) throw new Refused(422, "DESK-021 no-subject", "Say which warning or which site it is about.");
    const isTaken = await this.actions.write(subject, () => this.judge(request, by));
    return { repeated: !isTaken, row: request.warning === undefined ? null : caseOf(this.desk, request.warning).asRow() };
  }

  close(): Promise<void> {
    return this.actions.close();
  }

  private judge(request: ActRequest, by: Person): DeskAction | null {
    const { desk } = this;
    const found = request.warning === undefined ? null : caseOf(desk, request.warning);
    if (found === null) this.checkSite(request, by);
    else if (!may(by.role, "act")) throw new Refused(403, "DESK-012 not-allowed", "Your role may look at warnings, not act on them.");
    if (desk.state.knowsAction(request.id)) return null;
    if (found !== null) {
      checkSeen(request, found);
      checkPossible(request, found.asRow(), desk, by);
    }
    return actionOf(request, by, desk.clock.nowMs());
  }

  private checkSite(request: ActRequest, by: Person): void {
    const { desk } = this;
    const needed = TAKES_MAINTENANCE.has(request.action) ? "maintain" : "act";
    if (!may(by.role, "maintain") && !may(by.role, needed))
      throw new Refused(403, "DESK-012 not-allowed", `This needs the role maintain; yours is ${by.role}.`);
    if (!desk.state.lines.sites.has(request.site ?? "")) throw new Refused(404, "DESK-022 unknown", "The line file has no such site.");
    const { condition } = request;
    if (condition !== undefined && desk.state.sites.conditionById(condition)?.site !== request.site)
      throw new Refused(404, "DESK-022 unknown", "This site has no such condition.");
    if (!OF_SITES.has(request.action)) throw new Refused(422, "DESK-023 incomplete", "Of a site this cannot be taken down.");
    if (NEEDS_TEXT.has(request.action) && !request.text) throw new Refused(422, "DESK-023 incomplete", "Say why, or what it is.");
    if (request.action === "shelve" && (request.until === undefined || Date.parse(request.until) <= desk.clock.nowMs()))
      throw new Refused(422, "DESK-023 incomplete", "Shelving needs its end, and one that has not passed.");
  }
}

/** What can be done about a site or one of its conditions; what of it only the role maintain may; what needs words. */
const OF_SITES: ReadonlySet<string> = new Set(["acknowledge", "note", "shelve", "unshelve", "out-of-service", "return-to-service"]);
const TAKES_MAINTENANCE: ReadonlySet<string> = new Set(["shelve", "unshelve", "out-of-service", "return-to-service"]);
const NEEDS_TEXT: ReadonlySet<string> = new Set(["note", "shelve", "out-of-service"]);

function caseOf(desk: Desk, warning: string): WarningCase {
  const found = desk.state.board.caseOf(warning);
  if (found === undefined) throw new Refused(404, "DESK-022 unknown", "There is no such warning, or it is so old that the desk let it go.");
  return found;
}

/** What was done since by others, or a level that rose, the person must see first. A plain note hurts nobody. */
function checkSeen(request: ActRequest, found: WarningCase): void {
  if (request.action === "note" && request.done === undefined) return;
  const { seen } = request;
  if (seen === undefined) throw new Refused(422, "DESK-023 incomplete", "Say what you had in front of you (seen).");
  const since = [
    ...found.actions.slice(seen.actions).map(({ action }) => `${action.by}: ${actionWords(action)} (${action.time})`),
    ...levelSince(found, seen.version),
  ];
  if (since.length > 0) {
    throw new Refused(
      409,
      "DESK-020 changed-meanwhile",
      "Something happened to this warning while you were at it. Look at it, then decide again.",
      {
        row: found.asRow(),
        since,
      },
    );
  }
}

function levelSince(found: WarningCase, version: number): string[] {
  const seen = found.versions.findLast((one) => one.version <= version);
  if (seen === undefined || seen.level === found.last.level) return [];
  return [`the level went from ${seen.level} to ${found.last.level}`];
}

function checkPossible(request: ActRequest, row: Row, desk: Desk, by: Person): void {
  const unfit = (words: string) => new Refused(409, "DESK-024 not-now", words, { row });
  const incomplete = (words: string) => new Refused(422, "DESK-023 incomplete", words);
  if (row.state === "withdrawn") throw unfit("A late pass withdrew this warning; there is nothing left to act on.");
  switch (request.action) {
    case "acknowledge":
      if (row.state !== "unacknowledged") throw unfit(`It is ${row.state} already.`);
      return;
    case "assign":
      if (request.to === undefined) throw incomplete("Say who it goes to.");
      return;
    case "note":
      if (!request.text && request.done === undefined) throw incomplete("A note needs its words.");
      return;
    case "found":
      if (request.found === undefined) throw incomplete("Say what was found.");
      if (request.found !== "not-inspected" && request.heatStick === undefined)
        throw incomplete("Say what the heat stick showed, or that none was used: only an inspection clears a warning.");
      if (row.state === "cleared" || row.state === "out-of-service") throw unfit(`It is ${row.state} already.`);
      return;
    case "shelve":
      checkShelf(request, row, desk, incomplete, unfit);
      return;
    case "unshelve":
      if (row.state !== "shelved") throw unfit("It is not shelved.");
      return;
    case "out-of-service":
      throw unfit("A bearing goes out of service by what an inspection found.");
    case "return-to-service":
      if (row.state !== "out-of-service") throw unfit("It is not out of service.");
      if (!request.text) throw incomplete("Say why it goes back into service.");
      if (!may(by.role, "act")) throw new Refused(403, "DESK-012 not-allowed", "Your role may not return a vehicle to service.");
  }
}

function checkShelf(
  request: ActRequest,
  row: Row,
  desk: Desk,
  incomplete: (words: string) => Refused,
  unfit: (words: string) => Refused,
): void {
  const nowMs = desk.clock.nowMs();
  const most = desk.book.at(nowMs).desk.shelveMaxHours;
  if (row.level === "limit") throw unfit("A bearing that reached the limit cannot be shelved.");
  if (row.state !== "unacknowledged" && row.state !== "acknowledged") throw unfit(`It is ${row.state}.`);
  if (most === 0) throw unfit("The rules allow no shelving.");
  if (!request.text) throw incomplete("Shelving needs its reason.");
  if (request.until === undefined) throw incomplete("Shelving needs its end.");
  const untilMs = Date.parse(request.until);
  if (untilMs <= nowMs) throw incomplete("The end of the shelf has passed.");
  if (untilMs > nowMs + most * HOUR_MS + 60_000) throw incomplete(`The rules allow at most ${most} hours.`);
}

/** The record: the schema of the topic has the last word. */
function actionOf(request: ActRequest, by: Person, nowMs: number): DeskAction {
  const { text: words, done } = request;
  const said = words !== undefined && words !== "" ? words : done === undefined ? undefined : DONE_WORDS[done];
  const { text: _, ...rest } = request;
  return deskAction.parse({
    type: "desk-action",
    ...rest,
    ...(said === undefined ? {} : { text: said }),
    time: new Date(nowMs).toISOString(),
    by: by.name,
  });
}

/** A note always has words, for readers that know nothing of `done`. */
const DONE_WORDS = { "told-crew": "told the crew", "train-stopped": "train stopped", "set-out": "vehicle set out" } as const;
