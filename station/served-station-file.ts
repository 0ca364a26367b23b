import { type Document, isMap, isSeq, parseDocument } from "yaml";
import { UsageError } from "./explain.ts";
import type { TransportSettings } from "./station-file.ts";

const SERVED_CALIBRATION_DUE = "2099-12-31";

export interface ServedStation {
  /** How each instrument is reached, by its station-file name. */
  readonly transports: ReadonlyMap<string, TransportSettings>;
  readonly limitsFolder: string;
  readonly recordsFolder: string;
  /** Models whose reference pieces can be put on; empty where nobody puts reference pieces on. */
  readonly referenceModels: readonly string[];
}

/**
 * The demo station's file with its instruments where they are served, so that a real station can be run on them.
 * @param demoText text of the demo station's file, whose comments are kept
 */
export function servedStationFile(demoText: string, served: ServedStation): string {
  const document = parseDocument(demoText);
  document.commentBefore =
    " The demo station with its instruments served in real time. Made by `drumtight sim serve --write-station`.";
  for (const [instrument, transport] of served.transports) {
    // The plant has gauges for other stations than the demo's, too.
    if (instrument !== "io_block" && !document.hasIn(["gauges", instrument])) continue;
    const path = instrument === "io_block" ? ["io_block", "transport"] : ["gauges", instrument, "transport"];
    document.setIn(path, document.createNode(transport, { flow: true }));
    // Simulated instruments never run out of calibration, and they are served in real time, on any day.
    if (instrument !== "io_block")
      document.setIn(["gauges", instrument, "calibration_due"], SERVED_CALIBRATION_DUE);
  }
  for (const orifice of keysOf(document.get("orifices"))) {
    const due = ["orifices", orifice, "calibration_due"];
    if (document.hasIn(due)) document.setIn(due, SERVED_CALIBRATION_DUE);
  }
  document.set("limits", served.limitsFolder);
  document.set("records", served.recordsFolder);
  keepPieces(document, served.referenceModels);
  return document.toString({ lineWidth: 0 });
}

function keysOf(map: unknown): string[] {
  return isMap(map) ? map.items.map(({ key }) => String(key)) : [];
}

function keepPieces(document: Document, models: readonly string[]): void {
  const pieces = document.getIn(["reference_check", "pieces"]);
  if (!isSeq(pieces)) return;
  pieces.items = pieces.items.filter((piece) => isMap(piece) && models.includes(String(piece.get("model"))));
  if (pieces.items.length === 0) document.set("reference_check", "off");
}

const LAST_PORT = 65_535;

/**
 * @throws UsageError for a TCP port that there is not
 * @example transportTo("127.0.0.1:4001") // { kind: "tcp", host: "127.0.0.1", port: 4001 }
 */
export function transportTo(address: string): TransportSettings {
  const tcp = /^(?<host>[^/]+):(?<port>\d+)$/.exec(address);
  if (!tcp?.groups) return { kind: "serial", port: address };
  const { host = "" } = tcp.groups;
  const port = Number(tcp.groups.port);
  if (port < 1 || port > LAST_PORT)
    throw new UsageError(
      `${address}: there is no TCP port ${tcp.groups.port}; give one from 1 to ${LAST_PORT}.`,
    );
  return { kind: "tcp", host, port };
}
