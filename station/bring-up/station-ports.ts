import { realpathSync } from "node:fs";
import type { StationFile } from "../station-file.ts";
import type { PortFacts } from "./serial-ports.ts";

/** A serial port that a station's instrument is on. */
export interface StationPort {
  readonly instrument: string;
  /** As the station file names it. */
  readonly named: string;
  /** Its device file; null where it is not there. */
  readonly path: string | null;
}

/** Where a station's instruments are among the machine's ports; those on the network or simulated are left out. */
export function stationPorts(
  { gauges, ioBlock }: Pick<StationFile, "gauges" | "ioBlock">,
  ports: readonly Pick<PortFacts, "path" | "lasting">[],
): StationPort[] {
  return [...gauges, ioBlock].flatMap(({ name, transport }) => {
    if (transport.kind !== "serial") return [];
    const { port: named } = transport;
    const listed = ports.find(({ path, lasting }) => named === path || named === lasting);
    return [{ instrument: name, named, path: listed?.path ?? realPath(named) }];
  });
}

function realPath(named: string): string | null {
  try {
    return realpathSync(named);
  } catch {
    return null;
  }
}
