import { simulatedShare } from "./seeds.ts";

simulatedShare(2, 2);
