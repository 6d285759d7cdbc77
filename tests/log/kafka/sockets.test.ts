import { once } from "node:events";
import { type AddressInfo, createServer } from "node:net";
import { describe, expect, it } from "vitest";
import { Sockets } from "../../../src/log/kafka/sockets.ts";

describe("a client that is given up", () => {
  it("loses its connections and gets no new one", async () => {
    const server = createServer();
    server.listen(0, "127.0.0.1");
    await once(server, "listening");
    const { port } = server.address() as AddressInfo;
    const sockets = new Sockets();
    const place = { host: "127.0.0.1", port, ssl: undefined as never, onConnect: () => {} };
    const socket = sockets.factory(place);
    await once(socket, "connect");
    const closed = once(socket, "error");
    sockets.hangUp();
    expect((await closed)[0]).toMatchObject({ message: expect.stringContaining("given up") });
    expect(() => sockets.factory(place)).toThrow(/given up/);
    server.close();
  });
});
