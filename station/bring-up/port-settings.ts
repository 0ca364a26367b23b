import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { UsageError } from "../explain.ts";

const COMMON_BAUDS = [9600, 115_200, 19_200, 38_400, 57_600, 4800, 2400, 1200, 230_400];
/** Text with seven data bits and parity: older instruments' way. Common practice, no source. */
const OLDER = ["9600-7E1", "9600-7O1", "19200-7E1", "19200-7O1", "4800-7E1", "2400-7E1"];

/** As people write them, and `settingsFrom` reads them: "9600-8N1". */
export function settingsText({ baud, dataBits, parity, stopBits }: SerialSettings): string {
  return `${baud}-${dataBits}${parity.slice(0, 1).toUpperCase()}${stopBits}`;
}

/**
 * Reads port settings; without the part behind the dash, 8 data bits, no parity, 1 stop bit.
 * @throws UsageError naming what was expected
 * @example settingsFrom("19200-7E1").parity // "even"
 */
export function settingsFrom(text: string): SerialSettings {
  const groups = /^(?<baud>\d{2,7})(?:-(?<bits>[78])(?<parity>[NEO])(?<stop>[12]))?$/i.exec(
    text.trim(),
  )?.groups;
  const baud = Number(groups?.baud);
  if (!groups || baud < 50 || baud > 4_000_000) {
    throw new UsageError(
      `--baud: found ${JSON.stringify(text)}, expected a baud rate like 9600, or with data bits, parity and stop bits like 9600-7E1.`,
    );
  }
  const parity = { N: "none", E: "even", O: "odd" } as const;
  return {
    baud,
    dataBits: groups.bits === "7" ? 7 : 8,
    parity: parity[(groups.parity ?? "N").toUpperCase() as keyof typeof parity],
    stopBits: groups.stop === "2" ? 2 : 1,
    flowControl: "none",
  };
}

/** Settings worth trying, the likeliest first: those of known profiles, then what is common. */
export function likelySettings(known: readonly SerialSettings[]): SerialSettings[] {
  const all = [...known, ...COMMON_BAUDS.map(String).map(settingsFrom), ...OLDER.map(settingsFrom)];
  return [...new Map(all.map((settings) => [settingsText(settings), settings])).values()];
}
