import { join, resolve } from "node:path";
import type { SimulatedInstrument } from "./instruments/plugged-instrument.ts";
import { Stranger } from "./instruments/stranger.ts";
import { throughPty } from "./pty-settings.ts";
import type { ServeError } from "./serve-error.ts";
import { serveOnPtys } from "./serve-pty.ts";
import { serveOnTcp } from "./serve-tcp.ts";

export interface ServeOneOptions {
  /** 0 for one that is free. */
  readonly tcpPort: number;
  /** Folder for a pseudo-terminal, when wanted. */
  readonly ptyFolder?: string;
  /** The instrument can no longer be reached. */
  readonly failed: (error: ServeError) => void;
}

/**
 * One instrument in real time, on a TCP port or a pseudo-terminal.
 * @throws ServeError when a port, socat or a pseudo-terminal cannot be had
 */
export async function serveOneGauge(
  instrument: SimulatedInstrument,
  { tcpPort, ptyFolder, failed }: ServeOneOptions,
): Promise<{ readonly address: string; close(): Promise<void> }> {
  const { name } = instrument;
  const served =
    ptyFolder !== undefined && instrument instanceof Stranger
      ? throughPty(instrument, join(resolve(ptyFolder), name))
      : instrument;
  const tcp = await serveOnTcp(new Map([[name, served]]), tcpPort);
  if (ptyFolder === undefined) {
    return { address: `127.0.0.1:${tcp.ports.get(name)}`, close: () => tcp.close() };
  }
  try {
    const ptys = await serveOnPtys(tcp.ports, ptyFolder, failed);
    return {
      address: ptys.paths.get(name) ?? "",
      async close() {
        await ptys.close();
        await tcp.close();
      },
    };
  } catch (error) {
    await tcp.close();
    throw error;
  }
}
