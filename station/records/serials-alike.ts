import { join } from "node:path";
import { readRecord } from "./chain.ts";
import { listRecords, safeSerial, safeSerialIn } from "./record-name.ts";
import { TravellerReader } from "./traveller-reader.ts";

const MOST = 3;

/**
 * Serials with records that differ from one without any in nothing but capital and small letters, as somebody types it who reads a label.
 * @returns at most three of them
 * @throws RecordError as `listRecords`
 */
export async function serialsAlike(folder: string, serial: string): Promise<string[]> {
  const named = safeSerial(serial).toLowerCase();
  const reader = new TravellerReader();
  const alike = new Set<string>();
  for (const file of await listRecords(folder)) {
    if (alike.size === MOST) break;
    if (safeSerialIn(file.path).toLowerCase() !== named) continue;
    const read = reader.read(join(folder, file.path));
    const record = read.ok ? readRecord(read.bytes) : undefined;
    const found = record?.ok ? (record.content as { serial?: unknown }).serial : undefined;
    if (typeof found !== "string" || found === serial) continue;
    if (found.toLowerCase() === serial.toLowerCase()) alike.add(found);
  }
  return [...alike];
}
