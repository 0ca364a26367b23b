import { join } from "node:path";
import { AuditReader } from "./audit-read.ts";
import { readRecord } from "./chain.ts";
import { listRecords, safeSerial, safeSerialIn } from "./record-name.ts";

const MOST = 3;

/**
 * Serials with records that differ from one without any in nothing but capital and small letters, as somebody types it who reads a label.
 * @returns at most three of them
 * @throws RecordError as `listRecords`
 */
export async function serialsAlike(folder: string, serial: string): Promise<string[]> {
  const asked = safeSerial(serial).toLowerCase();
  const firstNamed = new Map<string, string>();
  for (const file of await listRecords(folder)) {
    const safe = safeSerialIn(file);
    if (safe.toLowerCase() === asked && !firstNamed.has(safe)) firstNamed.set(safe, join(folder, file.path));
  }
  const reader = new AuditReader();
  const serials = [...firstNamed.values()].flatMap((path) => {
    const read = reader.read(path);
    const record = read.ok ? readRecord(read.bytes) : undefined;
    return record?.ok ? [(record.content as { serial?: unknown }).serial] : [];
  });
  const isAlike = (it: unknown): it is string =>
    typeof it === "string" && it !== serial && it.toLowerCase() === serial.toLowerCase();
  return serials.filter(isAlike).slice(0, MOST);
}
