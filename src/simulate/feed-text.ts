import type { Topic } from "../feed/record.ts";

/** One record of a simulated feed, as text. */
export interface FeedText {
  topic: Topic;
  key: string;
  /** The record's JSON; of a record spoilt on purpose whatever stands there. */
  json: string;
  /** When it arrives. */
  atMs: number;
  /** `json` is not JSON: it stands in the feed file as an escaped string. */
  spoilt?: boolean;
}

/** A line of a feed file, without its line break. */
export function lineOf(text: FeedText): string {
  const value = text.spoilt === true ? JSON.stringify(text.json) : text.json;
  return `{"topic":"${text.topic}","key":${JSON.stringify(text.key)},"value":${value}}`;
}
