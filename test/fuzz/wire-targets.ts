import fc from "fast-check";
import { encodingDoubt } from "../../drivers/encoding-doubt.ts";
import { LineFramer } from "../../drivers/framing.ts";
import { parseNrf } from "../../drivers/nrf.ts";
import { DriverError, type Reading } from "../../drivers/ports.ts";
import type { GaugeProfile } from "../../drivers/profile.ts";
import { loadProfile, ownProfilesFolder, profileNames } from "../../drivers/profile-file.ts";
import { AsciiLineGauge } from "../../drivers/protocols/ascii-line.ts";
import { parseState } from "../../drivers/protocols/io-block-lines.ts";
import { ReplyReader } from "../../drivers/protocols/reply-reader.ts";
import { ioBlockProfile, memoryRig } from "../drivers/rigs.ts";
import { require, requireDeclared, requireSentence } from "./clear-words.ts";
import { anyBytes, anyText, inPieces, mangling, mutated, pieces } from "./mutate.ts";
import { type FuzzTarget, fuzzTarget } from "./target.ts";

/** Every shipped profile of a gauge that speaks in lines. */
const GAUGES: readonly GaugeProfile[] = profileNames(ownProfilesFolder())
  .map((name) => loadProfile(name))
  .filter((profile) => profile.kind === "gauge");

const READINGS = [
  "N=004711 P=-7998.42 S=0",
  "N=004712 P=+0.00 S=1",
  "-7998.4",
  "   12.0",
  "OL",
  "$P,4711,-7.99842,kPa,0*33",
  "$P,4712,OL,kPa,1*38",
  "+1.20345E+04;+2.31245E+01",
  "+2.12400E+01;+1.01325E+05;+4.52000E+01",
  "+9.91E37",
  "-8.45012E+03",
];
const ANSWERS = [
  "DEMO WORKS,PRESSURE,SN0001,1.0",
  "ID=STREAM-PRESSURE;SN=0001;FW=1.0",
  "$ID,STREAM-CHECKED,SN1,FW1*77",
  '-113,"Undefined header"',
  "$ERR,5*4E",
];
const wireText = fc.oneof(
  { weight: 4, arbitrary: mutated([...READINGS, ...ANSWERS], 3) },
  { weight: 1, arbitrary: anyBytes },
);
/** As the wire carries it: bytes only. */
const wireLine = wireText.map((text) => Buffer.from(text.slice(0, 4096), "latin1").toString("latin1"));
const wireLines = fc
  .array(fc.tuple(wireLine, fc.constantFrom("\n", "\r\n", "\r", "")), { minLength: 1, maxLength: 8 })
  .map((lines) => lines.map((line) => line.join("")).join(""));

function requireReadings(readings: readonly Reading[], profile: GaugeProfile): void {
  require(readings.length === profile.channels.length, "has not one reading a channel");
  for (const { value, quality, t_s } of readings) {
    require(Number.isFinite(t_s), "has no time");
    require(Number.isFinite(value) === (quality === "good"), `${quality} but ${value}`);
  }
}

function requireDriverError(error: unknown): void {
  requireSentence(requireDeclared(error, DriverError).message);
}

const gaugeLines = fuzzTarget(
  "gauge lines",
  400_000,
  fc.record({
    profile: fc.constantFrom(...GAUGES),
    lines: fc.array(wireLine, { minLength: 1, maxLength: 3 }),
  }),
  ({ profile, lines }) => {
    const reader = new ReplyReader("gauge", profile);
    let isRead = false;
    lines.forEach((line, i) => {
      try {
        const readings = reader.read(line, i);
        require(reader.matches(line), "reads a line that does not match");
        requireReadings(readings, profile);
        isRead = true;
      } catch (error) {
        requireDriverError(error);
      }
    });
    return isRead;
  },
);

const framing = fuzzTarget(
  "framing",
  80_000,
  fc.record({
    bytes: inPieces(wireLines),
    terminator: fc.constantFrom("LF" as const, "CR" as const, "CRLF" as const),
    longest_bytes: fc.integer({ min: 1, max: 100 }),
  }),
  ({ bytes, terminator, longest_bytes }) => {
    let heard = 0;
    let kept = 0;
    const clock = { now_s: () => 0, wall_ms: () => 0, setTimeout: () => 0, clearTimeout: () => undefined };
    const framer = new LineFramer(
      "gauge",
      { ...clock, afterArrivals: () => undefined },
      { terminator, longest_bytes, idleRest_s: 0.1, dropRestBeforeSend: false },
      {
        line: (text) => {
          heard++;
          kept += text.length;
          require(text.length <= longest_bytes, `lets a line of ${text.length} through`);
          require(!text.includes(terminator === "CR" ? "\r" : "\n"), "leaves a line end in a line");
        },
        refused: (_raw, error) => {
          heard++;
          requireDriverError(error);
        },
      },
    );
    for (const piece of pieces(bytes)) framer.push(piece, 0);
    framer.close();
    require(heard <= bytes.text.length, "makes more lines than there are bytes");
    require(kept <= bytes.text.length, "makes more text than came");
    return kept > 0;
  },
);

const IO = ioBlockProfile();
const STATE =
  "OUT source=0 isolate=0 vent=1 motor=0 orifice_1=0 orifice_2=0 orifice_3=0 orifice_4=0 IN guard=1 start=0 WD=0";

const ioLines = fuzzTarget("I/O block lines", 100_000, fc.oneof(mutated([STATE], 3), anyBytes), (line) => {
  const state = parseState(line, IO.outputs, IO.inputs);
  if (!state) return false;
  const names = (levels: object) => Object.keys(levels).join();
  require(names(state.outputs) === IO.outputs.join(), "leaves outputs out or makes some up");
  require(names(state.inputs) === IO.inputs.join(), "leaves inputs out or makes some up");
  for (const [name, level] of Object.entries({ ...state.outputs, ...state.inputs })) {
    require(line.includes(` ${name}=${level ? 1 : 0}`), `makes up ${name}`);
  }
  return true;
});

const numbers = fuzzTarget(
  "numbers on the wire",
  60_000,
  fc.oneof(mutated(["+1.20345E+04", "-7998.42", ".5", "5.", "007"], 3), anyText),
  (text) => {
    const value = parseNrf(text);
    if (value === undefined) return false;
    require(Number.isFinite(value) &&
      /^[-+.\deE]+$/.test(text), `takes ${JSON.stringify(text)} for ${value}`);
    require(value === Number(text), "reads another number");
    return true;
  },
);

const encodings = fuzzTarget("encodings", 30_000, fc.oneof(wireLine, anyBytes), (raw) => {
  const doubt = encodingDoubt(raw);
  if (doubt !== undefined) requireSentence(doubt);
  return doubt === undefined;
});

/** Longer than any answer a shipped profile waits for, self-test included. */
const SETTLED_s = 60;

/** Whole drivers, on virtual time, with an instrument that answers as it should, or whatever it likes. */
const conversations = fuzzTarget(
  "conversations",
  8_000,
  fc.record({
    profile: fc.constantFrom(...GAUGES),
    greeting: fc.oneof({ weight: 2, arbitrary: fc.constant("") }, { weight: 1, arbitrary: wireLines }),
    /** What becomes of each answer in turn; null: nothing. */
    answers: fc.array(
      fc.oneof(
        { weight: 3, arbitrary: fc.constant(null) },
        { weight: 1, arbitrary: inPieces(wireLines) },
        { weight: 1, arbitrary: mangling },
      ),
      { minLength: 1, maxLength: 6 },
    ),
    streamed: fc.oneof(
      wireLines,
      fc.constantFrom("-1.0\n-2.0\n-3.0\n", "N=000001 P=+1.00 S=0\r\nN=000002 P=+1.00 S=0\r\n"),
    ),
  }),
  async ({ profile, greeting, answers, streamed }) => {
    let turn = 0;
    const rig = memoryRig(
      profile,
      (command, far) => {
        const sound = soundAnswer(profile.name, command);
        const answer = answers[turn++ % answers.length] ?? null;
        if (typeof answer === "object" && answer !== null) {
          for (const piece of pieces(answer)) far.send(piece.toString("latin1"));
        } else if (sound !== null) far.send(answer === null ? `${sound}\r\n` : answer(`${sound}\r\n`));
      },
      greeting,
    );
    const gauge = new AsciiLineGauge({ name: "gauge", profile, transport: rig.transport, clock: rig.clock });
    const faults: DriverError[] = [];
    let isRead = false;
    try {
      await rig.settle(gauge.connect());
      gauge.watch({
        readings: (readings) => requireReadings(readings, profile),
        fault: (error) => void faults.push(error),
      });
      const reading = gauge.read();
      reading.catch(() => undefined);
      if (profile.mode.kind === "stream") rig.far().send(streamed);
      requireReadings(await rig.settle(reading), profile);
      isRead = true;
    } catch (error) {
      requireDriverError(error);
    }
    require(rig.clock.now_s() <= SETTLED_s, `takes ${rig.clock.now_s()} s to make up its mind`);
    require(faults.length <= 1, "tells a fault twice");
    for (const { text } of gauge.conversation.lines()) if (text.trim() !== "") requireSentence(text);
    await gauge.close();
    return isRead;
  },
);

/** What a sound gauge of each shipped profile answers. */
function soundAnswer(profile: string, command: string): string | null {
  const kind = profile.replace(/^scpi-/, "").toUpperCase();
  const table: Readonly<Record<string, string>> = {
    "*IDN?": `DEMO WORKS,${kind},SN0001,1.0`,
    "MEAS:SUCT?;FLOW?": "+1.20345E+04;+2.31245E+01",
    "MEAS:TEMP?;PRES?;HUM?": "+2.12400E+01;+1.01325E+05;+4.52000E+01",
    "MEAS:DROP?": "+1.06249E+03",
    "MEAS:POW?;VOLT?": "+6.21300E+02;+2.30100E+02",
    "MEAS:PRES?": "-8.45012E+03",
    "ID?": "ID=STREAM-PRESSURE;SN=0001;FW=1.0",
    "$ID?*32": sealed("ID,STREAM-CHECKED,SN1,FW1"),
    "$TEST?*3B": sealed("TEST,OK"),
    "$UNIT,kPa*41": sealed("OK"),
    "$RATE,20*74": sealed("OK"),
  };
  return table[command] ?? null;
}

function sealed(text: string): string {
  const sum = [...text].reduce((sum, character) => sum ^ character.charCodeAt(0), 0);
  return `$${text}*${sum.toString(16).toUpperCase().padStart(2, "0")}`;
}

export const WIRE_TARGETS: readonly FuzzTarget[] = [
  gaugeLines,
  framing,
  ioLines,
  numbers,
  encodings,
  conversations,
];
