import { basename } from "node:path";
import type { Reason } from "./cycle/reason.ts";
import type { Ambient } from "./cycle/unit-context.ts";
import type { Fixture } from "./fixture.ts";
import { type EnteredRoom, enteredRoom, type RoomDue, type RoomEntry, roomEntryAt } from "./room-entry.ts";
import type { StationFile } from "./station-file.ts";

/** Where a test takes the room's temperature, pressure and humidity from. */
export interface RoomAir {
  /** What keeps a test from starting now. */
  refusals(now_ms: number): readonly Reason[];
  /** @throws Error, with a sentence for people, when there is no value */
  read(): Promise<Ambient>;
}

/** @param fixture whose ambient instrument is read, where the station has one */
export function roomAir(
  file: Pick<StationFile, "name" | "room">,
  fixture: Pick<Fixture, "readAmbient">,
): RoomAir {
  const entered = enteredRoom(file);
  return entered ? new EnteredAir(entered) : { refusals: () => [], read: () => fixture.readAmbient() };
}

/** What somebody entered: looked at afresh before each test, and held on to in it, even should it run out meanwhile. */
class EnteredAir implements RoomAir {
  readonly #room: EnteredRoom;
  #entry: RoomEntry | null = null;

  constructor(room: EnteredRoom) {
    this.#room = room;
  }

  refusals(now_ms: number): readonly Reason[] {
    const state = roomEntryAt(this.#room, now_ms);
    this.#entry = state.kind === "holds" ? state.entry : null;
    if (state.kind === "holds") return [];
    return [{ code: "AMBIENT_DUE", sentence: roomDue(this.#room, state, now_ms) }];
  }

  async read(): Promise<Ambient> {
    if (!this.#entry) throw new Error("The room's air was not known when the test began.");
    const { by, at, ...air } = this.#entry;
    return { ...air, entered: { by, at } };
  }
}

/** @returns why the room has to be read and entered, and how to do it */
export function roomDue({ source }: EnteredRoom, state: RoomDue, now_ms: number): string {
  return `${whyDue(basename(source.path), state, now_ms)} Read the room's thermometer, barometer and hygrometer and enter them: drumtight ambient --station ${source.stationPath} (with --help it says how).`;
}

function whyDue(file: string, state: RoomDue, now_ms: number): string {
  switch (state.kind) {
    case "none":
      return "The room's air has not been entered.";
    case "overdue":
      return `The room's air as ${state.entry.by} entered it ran out ${hoursMinutes(now_ms - state.until_ms)} ago.`;
    case "unusable":
      return `${file} ${state.why}, and is not used.`;
  }
}

/** @example hoursMinutes(15_060_000) // "4 h 11 min" */
export function hoursMinutes(ms: number): string {
  const minutes = Math.floor(ms / 60_000);
  const hours = Math.floor(minutes / 60);
  if (minutes < 1) return "less than a minute";
  return hours === 0 ? `${minutes} min` : `${hours} h ${minutes % 60} min`;
}
