import { connect, type Socket } from "node:net";
import type { ISocketFactory } from "kafkajs";

/** Kafka's number for the request that ends a transaction. */
const END_TXN = 26;
const API_KEY_AT = 4;

/** Connections of one process that can be cut: all of them at once, or just where a transaction ends. */
export class CutSockets {
  private readonly open = new Set<Socket>();
  private plan: "done" | "undone" | null = null;
  private unplugged = false;

  readonly factory: ISocketFactory = ({ host, port, onConnect }) => {
    if (this.unplugged) throw new Error("unplugged");
    const socket = connect({ host, port }, onConnect);
    this.open.add(socket);
    socket.once("close", () => this.open.delete(socket));
    const write = socket.write.bind(socket) as (data: string | Uint8Array, encoding?: BufferEncoding) => boolean;
    socket.write = ((data: string | Uint8Array, encoding?: BufferEncoding) => {
      const { plan } = this;
      if (plan === null || !(data instanceof Uint8Array) || Buffer.from(data).readInt16BE(API_KEY_AT) !== END_TXN)
        return write(data, encoding);
      this.plan = null;
      if (plan === "undone") {
        socket.destroy(new Error("cut before the transaction's end was sent"));
        return true;
      }
      socket.removeAllListeners("data");
      socket.once("data", () => socket.destroy(new Error("cut before the answer was read")));
      return write(data, encoding);
    }) as Socket["write"];
    return socket;
  };

  /** The answer to the next end of a transaction never comes. `done`: the broker has done it all the same. */
  loseNextEnd(how: "done" | "undone"): void {
    this.plan = how;
  }

  /** The broker hears nothing of this process any more, and it nothing of the broker: what a killed process looks like. */
  cutForGood(): void {
    this.unplugged = true;
    this.cutAll();
  }

  cutAll(): number {
    const cut = [...this.open];
    for (const socket of cut) socket.destroy(new Error("cut"));
    return cut.length;
  }
}
