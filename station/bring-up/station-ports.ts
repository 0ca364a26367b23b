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

/** A device server or instrument on the network that a station's instruments are behind. */
export interface StationHost {
  readonly host: string;
  readonly port: number;
  readonly instruments: readonly string[];
}

type Instruments = Pick<StationFile, "gauges" | "ioBlock">;

/** The addresses of a station's instruments on the network, each once. */
export function stationHosts({ gauges, ioBlock }: Instruments): StationHost[] {
  const hosts = new Map<string, StationHost>();
  for (const { name, transport } of [...gauges, ioBlock]) {
    if (transport.kind !== "tcp") continue;
    const { host, port } = transport;
    const before = hosts.get(`${host}:${port}`)?.instruments ?? [];
    hosts.set(`${host}:${port}`, { host, port, instruments: [...before, name] });
  }
  return [...hosts.values()];
}

/** Those of a station's instruments that are simulated inside it, and have no port. */
export function portless({ gauges, ioBlock }: Instruments): string[] {
  return [...gauges, ioBlock].flatMap(({ name, transport }) => (transport.kind === "memory" ? [name] : []));
}

/** Where a station's instruments are among the machine's ports; those on the network or simulated are left out. */
export function stationPorts(
  { gauges, ioBlock }: Instruments,
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
