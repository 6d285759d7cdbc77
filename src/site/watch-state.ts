import type { AlarmRateState } from "./alarm-rate.ts";
import type { ClockState } from "./clock.ts";
import type { ConditionBookState } from "./condition-book.ts";
import type { FeedQualityState } from "./feed-quality.ts";
import type { FunctionalTestsState } from "./functional-tests.ts";
import type { HeartbeatsState } from "./heartbeats.ts";
import type { MiscountState } from "./miscount.ts";
import type { OutOfServiceSpell } from "./out-of-service.ts";
import type { ScaleState } from "./scale.ts";
import type { ScannerWatchState } from "./scanner-watch.ts";
import type { SelfTestState } from "./self-test.ts";
import type { SilenceState } from "./silence.ts";
import type { TestCalendarState } from "./test-calendar.ts";
import type { WatchParts } from "./watch-parts.ts";

/** All that the watch remembers, as plain data: for a record that outlives what a restart folds again. */
export interface WatchState {
  version: 1;
  conditions: ConditionBookState;
  heartbeats: HeartbeatsState;
  silence: SilenceState;
  clocks: Record<string, ClockState>;
  miscounts: MiscountState;
  scales: ScaleState;
  scanners: ScannerWatchState;
  selfTests: SelfTestState;
  feedQuality: FeedQualityState;
  alarmRates: AlarmRateState;
  tests: FunctionalTestsState;
  calendar: TestCalendarState;
  outOfService: OutOfServiceSpell[];
  hourMs: number | null;
}

/** A copy: what happens after it does not change it. */
export function stateOf(parts: WatchParts, hourMs: number | null): WatchState {
  return structuredClone({
    version: 1,
    conditions: parts.book.state(),
    heartbeats: parts.heartbeats.state(),
    silence: parts.silence.state(),
    clocks: parts.clocks.state(),
    miscounts: parts.miscounts.state(),
    scales: parts.scales.state(),
    scanners: parts.scanners.state(),
    selfTests: parts.selfTests.state(),
    feedQuality: parts.feedQuality.state(),
    alarmRates: parts.alarmRates.state(),
    tests: parts.tests.state(),
    calendar: parts.calendar.state(),
    outOfService: parts.service.state(),
    hourMs,
  });
}

/** Takes a remembered state in; what is heard after it was made goes on from there. */
export function restoreInto(parts: WatchParts, state: WatchState): void {
  parts.book.restore(state.conditions);
  parts.heartbeats.restore(state.heartbeats);
  parts.silence.restore(state.silence);
  parts.clocks.restore(state.clocks);
  parts.miscounts.restore(state.miscounts);
  parts.scales.restore(state.scales);
  parts.scanners.restore(state.scanners);
  parts.selfTests.restore(state.selfTests);
  parts.feedQuality.restore(state.feedQuality);
  parts.alarmRates.restore(state.alarmRates);
  parts.tests.restore(state.tests);
  parts.calendar.restore(state.calendar);
  parts.service.restore(state.outOfService);
}
