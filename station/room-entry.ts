import { readFileSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import { z } from "zod";
import { describeProblem, FileProblems, readCheckedYaml } from "../limits/checked-yaml.ts";
import { replaceFile } from "./records/durable-file.ts";
import { errnoOf } from "./records/record-error.ts";
import type { StationFile } from "./station-file.ts";
import type { RoomSource } from "./station-room.ts";

/** The room's air as somebody read and entered it. */
export interface RoomEntry {
  readonly temperature_K: number;
  /** Absolute, in the room itself. */
  readonly pressure_Pa: number;
  /** 0 to 1. */
  readonly relativeHumidity: number;
  readonly by: string;
  /** ISO 8601, UTC. */
  readonly at: string;
}

/** A station whose room is entered, and where. */
export interface EnteredRoom {
  readonly station: string;
  readonly source: Extract<RoomSource, { kind: "entered" }>;
}

export type RoomEntryState =
  | { readonly kind: "holds"; readonly entry: RoomEntry; readonly until_ms: number }
  | RoomDue;

export type RoomDue =
  | { readonly kind: "overdue"; readonly entry: RoomEntry; readonly until_ms: number }
  | { readonly kind: "none" }
  /** Something is there, and must not be used; `why` follows on the name of its file. */
  | { readonly kind: "unusable"; readonly why: string };

/**
 * Rooms that people work in; anything else is a slip of the pen, a wrong unit, or a gauge that is wrong. Pressures are those
 * that CIPM-2007 gives the density of air for.
 * @see Picard, Davis, Glaeser, Fujii, Metrologia 45 (2008) 149
 */
export const LIKELY_ROOM = {
  temperature_K: {
    least: 263.15,
    most: 323.15,
    words: "a room's temperature from -10 degC to 50 degC",
    dimension: "temperature",
    unit: "degC",
  },
  pressure_Pa: {
    least: 60_000,
    most: 110_000,
    words: "a room's absolute pressure from 600 hPa to 1100 hPa",
    dimension: "pressure",
    unit: "hPa",
  },
  relativeHumidity: {
    least: 0,
    most: 1,
    words: "a relative humidity from 0 % to 100 %",
    dimension: "relativeHumidity",
    unit: "%",
  },
} as const;

const entryFile = z.strictObject({
  drumtight: z.literal("ambient/1"),
  station: z.string().min(1),
  temperature_K: within(LIKELY_ROOM.temperature_K),
  pressure_Pa: within(LIKELY_ROOM.pressure_Pa),
  relative_humidity: within(LIKELY_ROOM.relativeHumidity),
  by: z.string().min(1).max(100),
  at: z.iso.datetime("a date and time like 2026-01-05T05:55:00.000Z"),
  until: z.iso.datetime("a date and time like 2026-01-05T09:55:00.000Z"),
});

function within({ least, most, words }: { least: number; most: number; words: string }) {
  return z
    .number({ error: () => words })
    .refine((value) => value >= least && value <= most, { error: () => words });
}

/** The room's air as entered, read afresh from its file, and whether it holds at this time. */
export function roomEntryAt({ station, source }: EnteredRoom, now_ms: number): RoomEntryState {
  let text: string;
  try {
    text = readFileSync(source.path, "utf8");
  } catch (error) {
    if (errnoOf(error) === "ENOENT") return { kind: "none" };
    if (errnoOf(error) === "") throw error;
    return { kind: "unusable", why: `can't be read (${errnoOf(error)})` };
  }
  const read = readEntry(basename(source.path), text);
  if ("why" in read) return { kind: "unusable", why: read.why };
  const { file } = read;
  if (file.station !== station) return { kind: "unusable", why: `is of the station "${file.station}"` };
  const at_ms = Date.parse(file.at);
  if (!(at_ms <= now_ms)) {
    return {
      kind: "unusable",
      why: `was entered at a time still to come, ${file.at}, by this computer's clock`,
    };
  }
  // A shorter time in the station file counts at once.
  const until_ms = Math.min(Date.parse(file.until), at_ms + source.validFor_s * 1000);
  const entry = {
    temperature_K: file.temperature_K,
    pressure_Pa: file.pressure_Pa,
    relativeHumidity: file.relative_humidity,
    by: file.by,
    at: file.at,
  };
  return { kind: now_ms <= until_ms ? "holds" : "overdue", entry, until_ms };
}

function readEntry(
  name: string,
  text: string,
): { readonly file: z.output<typeof entryFile> } | { readonly why: string } {
  try {
    JSON.parse(text);
  } catch {
    // YAML would read most of half a JSON file in its own way.
    return { why: "is broken (it is no JSON)" };
  }
  try {
    return { file: readCheckedYaml(name, text, entryFile) };
  } catch (error) {
    if (!(error instanceof FileProblems)) throw error;
    const [first] = error.problems;
    return { why: `is broken (${first ? describeProblem(first) : error.message})` };
  }
}

/**
 * Writes the entry in the place of the one before, whole or not at all; a station that runs uses it for its next unit.
 * @throws RecordError when it can't be written
 */
export async function saveRoomEntry({ station, source }: EnteredRoom, entry: RoomEntry): Promise<void> {
  const file: z.input<typeof entryFile> = {
    drumtight: "ambient/1",
    station,
    temperature_K: Number(entry.temperature_K.toPrecision(10)),
    pressure_Pa: Number(entry.pressure_Pa.toPrecision(10)),
    relative_humidity: Number(entry.relativeHumidity.toPrecision(10)),
    by: entry.by,
    at: entry.at,
    until: new Date(Date.parse(entry.at) + source.validFor_s * 1000).toISOString(),
  };
  const temp = join(dirname(source.path), `.${basename(source.path)}.${process.pid}`);
  await replaceFile(`${JSON.stringify(file, null, 2)}\n`, temp, source.path);
}

/** @returns where the station's room is entered; null where an instrument tells it */
export function enteredRoom({ name, room }: Pick<StationFile, "name" | "room">): EnteredRoom | null {
  return room.kind === "entered" ? { station: name, source: room } : null;
}
