import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { readRecord } from "../../station/records/chain.ts";
import { StationEvent } from "../../station/records/station-event.ts";

/** Everything that happened to a station, in order. */
export function readEvents(recordsFolder: string): StationEvent[] {
  const folder = join(recordsFolder, "events");
  const files = readdirSync(folder, { recursive: true, encoding: "utf8" }).filter((name) =>
    name.endsWith(".json"),
  );
  return files.sort().map((name) => {
    const record = readRecord(readFileSync(join(folder, name)));
    if (!record.ok) throw new Error(`${name} is no record`);
    return StationEvent.parse(record.content);
  });
}
