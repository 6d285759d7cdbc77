import { connect, isIP, type Socket } from "node:net";
import { type ConnectionOptions, connect as connectTls } from "node:tls";
import type { ISocketFactory } from "kafkajs";

/** TCP keep-alive: a peer that is gone without a word is noticed by the system after this and its own tries. */
const KEEP_ALIVE_MS = 30_000;

/**
 * The connections of one client. `hangUp` ends them and lets no new one come about: a kafkajs client that does not end when
 * it is told to can then do nothing any more. One that is merely forgotten joins its group again by and by, and holds
 * partitions that nobody reads [seen].
 */
export class Sockets {
  private readonly open = new Set<Socket>();
  private readonly make: ISocketFactory;
  private isHungUp = false;

  constructor(make: ISocketFactory = connected) {
    this.make = make;
  }

  readonly factory: ISocketFactory = (place) => {
    if (this.isHungUp) throw new Error("this client was given up");
    const socket = this.make(place);
    this.open.add(socket);
    socket.once("close", () => this.open.delete(socket));
    return socket;
  };

  get hungUp(): boolean {
    return this.isHungUp;
  }

  hangUp(): void {
    this.isHungUp = true;
    for (const socket of this.open) socket.destroy(new Error("this client was given up"));
  }
}

/** As kafkajs does it: TLS with the host's name, but for addresses, which have none. */
const connected: ISocketFactory = ({ host, port, ssl, onConnect }) => {
  const socket = ssl
    ? connectTls({ host, port, ...(isIP(host) === 0 ? { servername: host } : {}), ...(ssl as ConnectionOptions) }, onConnect)
    : connect({ host, port }, onConnect);
  socket.setKeepAlive(true, KEEP_ALIVE_MS);
  return socket;
};
