import { parentPort, workerData } from "node:worker_threads";
import { railroadOf } from "../line/railroad-of.ts";
import { RuleBook } from "../warning/rule-book.ts";
import { narrow } from "./narrow.ts";
import { ShareFold } from "./share-fold.ts";
import { stepped } from "./stepped.ts";
import type { Step, ThreadWork } from "./thread-messages.ts";

/** A thread that folds a share of a day: see `Threads`. */
const work = workerData as ThreadWork;
const port = parentPort;
if (port === null) throw new Error("this folds in a thread of its own");

const railroad = railroadOf(work.railroad);
const fold = new ShareFold({
  railroad,
  rules: new RuleBook(work.rules),
  narrow: narrow(work.narrow, new Set(railroad.sites.keys())),
  order: work.order,
  corridors: work.corridors,
  isFirst: false,
  withFiles: work.withFiles,
});

port.on("message", (step: Step) => {
  port.postMessage(stepped(fold, step, work.memory));
  if (step.type === "finish") port.close();
});
