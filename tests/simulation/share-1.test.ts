import { simulatedShare } from "./seeds.ts";

simulatedShare(1, 2);
