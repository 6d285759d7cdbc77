import { createRequire } from "node:module";
import type { Socket } from "node:net";

/**
 * Loaded before the program of a process under test (`node --import`): every connection it opens can be cut by SIGUSR2, as
 * a network does that forgets them. kafkajs opens its own through the very object that is changed here.
 */
const net = createRequire(import.meta.url)("node:net") as { connect(...words: unknown[]): Socket };
const { connect } = net;
const open = new Set<Socket>();

net.connect = (...words) => {
  const socket = connect(...words);
  open.add(socket);
  socket.once("close", () => open.delete(socket));
  return socket;
};

process.on("SIGUSR2", () => {
  for (const socket of open) socket.destroy(new Error("cut by the test"));
});
