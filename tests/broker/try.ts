import { startBroker } from "./broker.ts";

// Starts a broker as the tests would and stops it: status 0 when it answered.
const broker = await startBroker({ own: true });
await broker.stop();
process.exit(0);
