import { type Clock, DriverError } from "../../drivers/ports.ts";
import { TcpTransport } from "../../drivers/transports/tcp.ts";
import type { StationHost } from "./station-ports.ts";

/** How an address on the network was found. */
interface HostState {
  readonly isThere: boolean;
  readonly sentence: string;
}

/** A device server that has its one user hangs up on the next at once. */
const HANGS_UP_WITHIN_ms = 300;

/** Connects and leaves again; nothing is sent, and what comes is thrown away. */
export async function hostState({ host, port }: StationHost, clock: Clock): Promise<HostState> {
  const transport = new TcpTransport({ instrument: "list", host, port, clock });
  let isOver = () => {};
  const over = new Promise<boolean>((resolve) => {
    isOver = () => resolve(true);
    clock.setTimeout(() => resolve(false), HANGS_UP_WITHIN_ms);
  });
  try {
    const connection = await transport.connect({ bytes: () => {}, closed: () => isOver() });
    const isHungUp = await over;
    await connection.close();
    return isHungUp
      ? { isThere: true, sentence: "there, but hangs up at once: somebody else may have it" }
      : { isThere: true, sentence: "there, and lets one in" };
  } catch (error) {
    if (!(error instanceof DriverError)) throw error;
    const why = error.message.replace(/^list: no connection to [^,]*, /, "").replace(/\.$/, "");
    return { isThere: false, sentence: `missing: ${why}` };
  }
}
