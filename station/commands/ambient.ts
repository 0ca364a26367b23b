import { Command } from "@commander-js/extra-typings";
import type { EnteredRoom, RoomEntry, RoomEntryState } from "../room-entry.ts";

/** `drumtight ambient`: 0 the room's air is known, 1 it has to be read and entered, 2 used wrongly or cannot run. */
export function ambientCommand() {
  return new Command("ambient")
    .description(
      "Enter the room's temperature, pressure and humidity where no instrument does, or ask what is entered.",
    )
    .requiredOption("--station <file>", "station file, with the key ambient: { entered: ... }")
    .option("--temperature <temperature>", 'of the room\'s air, like "21.4 degC"')
    .option("--pressure <pressure>", 'absolute, where the station stands, like "1009 hPa"')
    .option("--humidity <humidity>", 'relative, like "45 %"')
    .option("--as <name>", "your name; every traveller tells it")
    .option("--json", "print one JSON object")
    .addHelpText("after", HELP)
    .action(async (options) => {
      process.exitCode = await ambient(options);
    });
}

const HELP = `
Without values it tells what is entered and how long it still holds. What is entered lies beside the station file, as
STATION.ambient.json, and counts for every unit that is started from then on, also at a station that is running.

Give the pressure that a barometer shows in the room. A weather report's is counted at sea level: 100 m up it is 12 hPa
too high, and suction at standard conditions nearly 1 % too low.

Examples:
  drumtight ambient --station line-2.yaml --temperature "21.4 degC" --pressure "1009 hPa" --humidity "45 %" --as "A. Marsh"
  drumtight ambient --station line-2.yaml`;

interface AmbientOptions {
  readonly station: string;
  readonly temperature?: string;
  readonly pressure?: string;
  readonly humidity?: string;
  readonly as?: string;
  readonly json?: true;
}

async function ambient(options: AmbientOptions): Promise<0 | 1> {
  const { UsageError } = await import("../explain.ts");
  const { readStationFileAlone } = await import("../load-station.ts");
  const { enteredRoom, roomEntryAt } = await import("../room-entry.ts");
  const { roomDue } = await import("../room-air.ts");
  // Mistyped values first: they are what the inspector can mend.
  const entry = await givenEntry(options);
  const file = readStationFileAlone(options.station);
  const room = enteredRoom(file);
  if (!room) {
    throw new UsageError(
      `${file.name} reads the room with an instrument (ambient: instrument): there is nothing to enter.`,
    );
  }
  if (entry) await save(room, entry);
  const now_ms = Date.now();
  const state = roomEntryAt(room, now_ms);
  if (options.json) process.stdout.write(`${JSON.stringify(await stateJson(room, state, now_ms))}\n`);
  if (state.kind === "holds") {
    if (!options.json) process.stdout.write(await stateText(room, state, now_ms));
    return 0;
  }
  process.stderr.write(`${roomDue(room, state, now_ms)}\n`);
  return 1;
}

/** @throws UsageError where the user may not write beside the station file; RecordError for what else goes wrong */
async function save(room: EnteredRoom, entry: RoomEntry): Promise<void> {
  const { saveRoomEntry } = await import("../room-entry.ts");
  const { RecordError } = await import("../records/record-error.ts");
  const { UsageError } = await import("../explain.ts");
  try {
    await saveRoomEntry(room, entry);
  } catch (error) {
    if (!(error instanceof RecordError && error.code === "NOT_WRITABLE")) throw error;
    throw new UsageError(
      `The room's air could not be saved to ${room.source.path}: get write access to that folder. Nothing was changed.`,
    );
  }
}

/** @throws UsageError for values that no room has, or where some are missing; null where none is given */
async function givenEntry(options: AmbientOptions): Promise<RoomEntry | null> {
  const { UsageError } = await import("../explain.ts");
  const { quoted } = await import("../../limits/quantity.ts");
  const { readBarometer, readHumidity, readTemperature } = await import("./calc/quantity-option.ts");
  const { LIKELY_ROOM } = await import("../room-entry.ts");
  const { temperature, pressure, humidity, as } = options;
  const given = { "--temperature": temperature, "--pressure": pressure, "--humidity": humidity, "--as": as };
  const missing = Object.entries(given).flatMap(([option, text]) => (text === undefined ? [option] : []));
  if (missing.length === Object.keys(given).length) return null;
  if (temperature === undefined || pressure === undefined || humidity === undefined || as === undefined) {
    throw new UsageError(
      `The room's air is entered all at once: ${missing.join(", ")} ${missing.length === 1 ? "is" : "are"} missing. Nothing was changed.`,
    );
  }
  const temperature_K = readTemperature("--temperature", temperature);
  const pressure_Pa = readBarometer("--pressure", pressure);
  for (const [option, text, value, { least, most, words }] of [
    ["--temperature", temperature, temperature_K, LIKELY_ROOM.temperature_K],
    ["--pressure", pressure, pressure_Pa, LIKELY_ROOM.pressure_Pa],
  ] as const) {
    if (value < least || value > most) {
      throw new UsageError(`${option}: found ${quoted(text)}, expected ${words}.`);
    }
  }
  const by = as.trim();
  if (by === "" || by.length > 100 || /\p{Cc}/u.test(by)) {
    throw new UsageError("--as: expected your name, up to 100 characters.");
  }
  return {
    temperature_K,
    pressure_Pa,
    relativeHumidity: readHumidity("--humidity", humidity),
    by,
    at: new Date().toISOString(),
  };
}

async function stateText(
  room: EnteredRoom,
  state: Extract<RoomEntryState, { kind: "holds" }>,
  now_ms: number,
): Promise<string> {
  const { formatQuantity } = await import("../../limits/print-quantity.ts");
  const { hoursMinutes } = await import("../room-air.ts");
  const { entry, until_ms } = state;
  const left_ms = until_ms - now_ms;
  const values = [
    formatQuantity(entry.temperature_K, "temperature", "degC", { significant: 6 }),
    formatQuantity(entry.pressure_Pa, "pressure", "hPa", { significant: 6 }),
    formatQuantity(entry.relativeHumidity, "relativeHumidity", "%", { significant: 6 }),
  ];
  return [
    `${room.station}: ${values.join(", ")}`,
    `  entered by ${entry.by} at ${minuteOf(Date.parse(entry.at))}`,
    `  holds for ${left_ms < 60_000 ? "less than another minute" : `another ${hoursMinutes(left_ms)}`}, until ${minuteOf(until_ms)}`,
    "",
  ].join("\n");
}

/** @example minuteOf(0) // "1970-01-01 00:00 UTC" */
function minuteOf(time_ms: number): string {
  return `${new Date(time_ms).toISOString().slice(0, 16).replace("T", " ")} UTC`;
}

async function stateJson(room: EnteredRoom, state: RoomEntryState, now_ms: number) {
  const told = { station: room.station, state: state.kind };
  if (state.kind === "none") return told;
  if (state.kind === "unusable") return { ...told, why: state.why };
  const { toUnit } = await import("../../limits/quantity.ts");
  const inUnit = (value: number, dimension: Parameters<typeof toUnit>[1], unit: string) => ({
    value: Number(toUnit(value, dimension, unit).toPrecision(10)),
    unit,
  });
  const { entry, until_ms } = state;
  return {
    ...told,
    temperature: inUnit(entry.temperature_K, "temperature", "degC"),
    pressure: inUnit(entry.pressure_Pa, "pressure", "hPa"),
    humidity: inUnit(entry.relativeHumidity, "relativeHumidity", "%"),
    by: entry.by,
    at: entry.at,
    until: new Date(until_ms).toISOString(),
    left_s: Math.max(0, Math.round((until_ms - now_ms) / 1000)),
  };
}
