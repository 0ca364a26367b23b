import { createHash } from "node:crypto";
import fc from "fast-check";
import type { TapeEvent } from "../../station/flight/tape-event.ts";
import { readTapeEvents, TapeDamaged, TapeWriter } from "../../station/flight/tape-events-codec.ts";
import { packTape, unpackTape } from "../../station/flight/tape-file.ts";
import { require, requireDeclared, requireSentence } from "./clear-words.ts";
import { anyBytes, mutated } from "./mutate.ts";
import { type FuzzTarget, fuzzTarget } from "./target.ts";

const INSTRUMENTS = ["leak_gauge", "io_block"];
const EVENTS: readonly TapeEvent[] = [
  { kind: "opened", t_s: 0, instrument: "leak_gauge" },
  { kind: "sent", t_s: 0.1, instrument: "leak_gauge", bytes: Buffer.from("ID?\r\n") },
  { kind: "heard", t_s: 0.2, instrument: "leak_gauge", bytes: Buffer.from("N=000001 P=-7998.42 S=0\r\n") },
  { kind: "readings", t_s: 0.2, instrument: "leak_gauge" },
  { kind: "called", t_s: 0.3, instrument: "io_block", levels: { source: true } },
  { kind: "levels", t_s: 0.4, instrument: "io_block", levels: { guard: true } },
  { kind: "ended", t_s: 0.4, instrument: "io_block", call: "set", number: 1, well: true },
  { kind: "now", t_s: 0.5 },
  { kind: "wall", t_s: 0.5, wall_ms: 1_767_592_800_000 },
  { kind: "timer", t_s: 0.6, delay_ms: 100 },
  { kind: "told", t_s: 0.7, event: { type: "ABORT" } },
  { kind: "given", t_s: 0.8, what: "begun", value: null },
  { kind: "lost", t_s: 0.9, instrument: "leak_gauge", code: "PORT_LOST", message: "unplugged" },
];

function written(): Buffer {
  const writer = new TapeWriter(INSTRUMENTS);
  for (const event of EVENTS) writer.add(event);
  return Buffer.from(writer.bytes());
}

const latin1 = (text: string) => Buffer.from(text, "latin1");

const events = fuzzTarget(
  "tape events",
  30_000,
  fc.oneof(
    { weight: 4, arbitrary: mutated([written().toString("latin1")], 3) },
    { weight: 1, arbitrary: anyBytes },
  ),
  (text) => {
    const bytes = latin1(text);
    let count = 0;
    let isWhole = false;
    try {
      for (const { t_s } of readTapeEvents(bytes, INSTRUMENTS)) {
        count++;
        require(Number.isFinite(t_s), `an event at ${t_s} s`);
      }
      isWhole = true;
    } catch (error) {
      requireSentence(requireDeclared(error, TapeDamaged).message);
    }
    require(count <= bytes.length, "makes more events than there are bytes");
    return isWhole;
  },
);

async function packed(): Promise<string> {
  const tape = await packTape({
    preamble: written(),
    events: written(),
    instruments: INSTRUMENTS,
    attempt: {
      serial: "POD000123",
      model: "POD-4",
      parts: {},
      number: 1,
      kind: "first",
      isDraft: false,
      approvedBy: "C. Holm",
      who: { name: null, how: "off", role: null },
      retestReason: null,
      isReference: false,
    },
    atStart: {
      memories: {},
      inputs: {},
      reading: {},
      answering: [],
      newestPressure_Pa: null,
      motorStoodStill: null,
    },
    files: {
      software: "drumtight 0.1.0",
      station: { name: "station.yaml", text: "" },
      limits: { name: "pod-4.yaml", text: "" },
      profiles: [],
      calibrations: [],
    },
    traveller: { verdict: "pass", ended_at: "2026-01-05T06:00:21.400Z" },
    sha256: "a".repeat(64),
    isCut: false,
  });
  return tape.toString("latin1");
}

const TRAILER_bytes = 66;

/** Made to look whole again, as somebody would who wants it believed. */
function resealed(text: string): Buffer {
  const body = latin1(text).subarray(0, -TRAILER_bytes);
  const sum = createHash("sha256").update(body).digest("hex");
  return Buffer.concat([body, latin1(`\n${sum}\n`)]);
}

export async function tapeTargets(): Promise<readonly FuzzTarget[]> {
  const whole = await packed();
  const inputs = fc.record({ text: mutated([whole], 3), isResealed: fc.boolean() });
  const tapes = fuzzTarget("tapes", 6_000, inputs, async ({ text, isResealed }) => {
    const found = await unpackTape(isResealed ? resealed(text) : latin1(text));
    if (found.damage !== null) {
      requireSentence(found.damage);
      return false;
    }
    require(isResealed || text === whole, "takes a changed tape for whole");
    require(found.contents !== null && found.header !== null, "calls a tape whole and has nothing of it");
    return true;
  });
  return [events, tapes];
}
