import type { Railroad } from "../line/railroad.ts";
import type { RuleBook } from "../warning/rule-book.ts";
import { limitsOf } from "../warning/rule-set.ts";
import { AlarmRates } from "./alarm-rate.ts";
import { Clocks } from "./clock.ts";
import type { SiteCondition } from "./condition.ts";
import { ConditionBook } from "./condition-book.ts";
import { EquipmentReports } from "./equipment.ts";
import type { EquipmentSeen } from "./equipment-seen.ts";
import { FeedQuality } from "./feed-quality.ts";
import type { FunctionalTestRecord } from "./functional-test.ts";
import { FunctionalTests } from "./functional-tests.ts";
import { Heartbeats } from "./heartbeats.ts";
import { Miscounts } from "./miscount.ts";
import { ScaleWatch } from "./scale.ts";
import { ScannerWatch } from "./scanner-watch.ts";
import { SelfTests } from "./self-test.ts";
import { Service } from "./service.ts";
import { Silence } from "./silence.ts";
import { USUAL_SITE_RULES } from "./site-rules.ts";
import { SiteWords } from "./site-words.ts";
import { TestCalendar } from "./test-calendar.ts";
import type { WatchContext } from "./watch-context.ts";

/** Where the watch puts what comes out of it, in order. */
export interface WatchSink {
  condition(condition: SiteCondition): void;
  functionalTest?: ((record: FunctionalTestRecord) => void) | undefined;
  equipment?: ((seen: EquipmentSeen) => void) | undefined;
}

/** All the judges of the sites that one corridor owns, and the conditions that they raise. */
export interface WatchParts {
  context: WatchContext;
  book: ConditionBook;
  service: Service;
  heartbeats: Heartbeats;
  silence: Silence;
  clocks: Clocks;
  miscounts: Miscounts;
  scales: ScaleWatch;
  scanners: ScannerWatch;
  selfTests: SelfTests;
  feedQuality: FeedQuality;
  alarmRates: AlarmRates;
  tests: FunctionalTests;
  calendar: TestCalendar;
  equipment: EquipmentReports;
}

/** `rules` null: the usual numbers. `now`: how far time has come. */
export function watchParts(
  railroad: Railroad,
  owned: ReadonlySet<string>,
  rules: RuleBook | null,
  sink: WatchSink,
  now: () => number,
): WatchParts {
  const book = new ConditionBook(
    (condition) => sink.condition(condition),
    (site, device) => service.isOut(site, device, now()),
  );
  const context: WatchContext = {
    railroad,
    owned,
    book,
    said: new SiteWords(railroad),
    rulesAt: (ms) => rules?.at(ms).sites ?? USUAL_SITE_RULES,
  };
  const service = new Service(context);
  const heartbeats = new Heartbeats(context);
  const calendar = new TestCalendar(context);
  const selfTests = new SelfTests(context);
  const tested = (record: FunctionalTestRecord): void => {
    sink.functionalTest?.(record);
    calendar.tested(record);
    if (record.result === "passed") selfTests.proved(record.site, record.track);
  };
  const limitF = (site: string, ms: number): number =>
    rules === null ? Number.POSITIVE_INFINITY : limitsOf(rules.at(ms), railroad.sites.get(site)?.kind ?? "", false).bearingF;
  return {
    context,
    book,
    service,
    heartbeats,
    silence: new Silence(context, heartbeats),
    clocks: new Clocks(context),
    miscounts: new Miscounts(context),
    scales: new ScaleWatch(context),
    scanners: new ScannerWatch(context),
    selfTests,
    feedQuality: new FeedQuality(context),
    alarmRates: new AlarmRates(context),
    tests: new FunctionalTests(context, tested, (ms) => rules?.at(ms).id ?? "usual"),
    calendar,
    equipment: new EquipmentReports(context, limitF, (seen) => sink.equipment?.(seen)),
  };
}
