import { loadLimitFile } from "../../limits/limit-file.ts";
import { NOT_CALIBRATED, type PreparedAttempt } from "../../station/cycle/attempt.ts";
import type { RawTape } from "../../station/flight/flight-recorder.ts";
import type { TapeEvent } from "../../station/flight/tape-event.ts";
import { TapeWriter } from "../../station/flight/tape-events-codec.ts";
import { NOBODY } from "../../station/people/person.ts";
import type { Recorded } from "../../station/records/store.ts";
import { bodyCurve, madeTraveller } from "../made-traveller.ts";

const INSTRUMENTS = ["leak_gauge", "io_block"];

/** What was said in a test that nobody made: to be kept and shown, not to be judged. */
export const SAID: readonly TapeEvent[] = [
  { kind: "now", t_s: 100 },
  { kind: "called", t_s: 100.1, instrument: "io_block", levels: { source: true, vent: false } },
  { kind: "sent", t_s: 100.1, instrument: "io_block", bytes: Buffer.from("SET source=1 vent=0\r\n") },
  { kind: "heard", t_s: 100.104, instrument: "io_block", bytes: Buffer.from("OK\r\n") },
  { kind: "ended", t_s: 100.104, instrument: "io_block", call: "set", number: 1, well: true },
  {
    kind: "heard",
    t_s: 100.11,
    instrument: "leak_gauge",
    bytes: Buffer.from([0x4e, 0x3d, 0x00, 0xff, 0x0d]),
  },
  { kind: "fault", t_s: 101, instrument: "leak_gauge" },
];

export function rawTape(events: readonly TapeEvent[] = SAID): RawTape {
  const written = (some: readonly TapeEvent[]) => {
    const writer = new TapeWriter(INSTRUMENTS);
    for (const event of some) writer.add(event);
    return writer.bytes();
  };
  return {
    instruments: INSTRUMENTS,
    atStart: {
      memories: {},
      inputs: {},
      reading: {},
      answering: [],
      newestPressure_Pa: null,
      motorStoodStill: null,
    },
    preamble: written([{ kind: "opened", t_s: 1, instrument: "leak_gauge" }]),
    events: written(events),
    isCut: false,
  };
}

const limits = loadLimitFile("limits/models/pod-4.yaml");

export function attempt(serial: string): PreparedAttempt {
  return {
    serial,
    parts: {},
    limits,
    number: 1,
    kind: "first",
    isDraft: false,
    approvedBy: null,
    who: NOBODY,
    missingParts: [],
    retestReasons: [],
    retestReason: null,
    calibration: NOT_CALIBRATED,
    reference: null,
  };
}

const made = madeTraveller({ curve: bodyCurve(5) });

export function recordedAt(sequence: number, serial: string, ended_ms: number): Recorded {
  const ended_at = new Date(ended_ms).toISOString();
  const traveller = { ...made, serial, ended_at, chain: { sequence, previous: null } };
  return { path: "", sha256: "0".repeat(64), traveller };
}
