import fc from "fast-check";
import { checksumOf } from "../../drivers/checksum.ts";
import type { ModbusGaugeProfile } from "../../drivers/modbus-profile.ts";
import { ModbusTransport } from "../../drivers/modbus-transport.ts";
import { DriverError, type FarEnd } from "../../drivers/ports.ts";
import { loadProfile, ownProfilesFolder, profileNames } from "../../drivers/profile-file.ts";
import { ModbusGauge } from "../../drivers/protocols/modbus-gauge.ts";
import { MemoryTransport } from "../../drivers/transports/memory.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { require, requireDeclared, requireSentence } from "./clear-words.ts";
import { anyBytes, mangling, mutated, pieces } from "./mutate.ts";
import { type FuzzTarget, fuzzTarget } from "./target.ts";

const PROFILES = profileNames(ownProfilesFolder()).map((name) => loadProfile(name));
/** Each over serial lines and over TCP. */
const bothWays = (profile: ModbusGaugeProfile): ModbusGaugeProfile[] =>
  (["rtu", "tcp"] as const).map((framing) => ({ ...profile, modbus: { ...profile.modbus, framing } }));
const GAUGES = PROFILES.filter((profile) => profile.kind === "modbus_gauge").flatMap(bothWays);

const byte = (value: number) => String.fromCharCode(value & 0xff);
const word = (value: number) => byte(value >> 8) + byte(value);
const wordAt = (text: string, at: number) => (text.charCodeAt(at) << 8) | text.charCodeAt(at + 1);

/**
 * What a sound instrument would answer, with whatever registers it likes; frames as latin1 text. Modbus Application
 * Protocol V1.1b3, 6.1 to 6.6 and 6.12.
 */
function soundAnswer(question: string, framing: "rtu" | "tcp", data: string): string {
  const pdu = framing === "tcp" ? question.slice(7) : question.slice(1, -2);
  const unit = framing === "tcp" ? (question[6] ?? "") : (question[0] ?? "");
  const code = pdu.charCodeAt(0);
  const count = wordAt(pdu, 3);
  const filled = (length: number) =>
    data.repeat(Math.ceil(length / Math.max(1, data.length))).slice(0, length);
  const body =
    code === 3 || code === 4
      ? byte(2 * count) + filled(2 * count)
      : code === 1 || code === 2
        ? byte(Math.ceil(count / 8)) + filled(Math.ceil(count / 8))
        : pdu.slice(1, 5);
  const frame = unit + byte(code) + body;
  if (framing === "tcp") return question.slice(0, 4) + word(frame.length) + frame;
  const crc = checksumOf("crc16_modbus", frame);
  return frame + byte(crc) + byte(crc >> 8);
}

interface Answering {
  readonly data: string;
  /** What becomes of an answer on its way; null: nothing. */
  readonly change: ((answer: string) => string) | null;
  readonly sizes: readonly number[];
}

const answering: fc.Arbitrary<Answering> = fc.record({
  data: fc.oneof(
    anyBytes,
    fc.constantFrom("\0\0", "\x7f\xc0\0\0", "\x7f\x80\0\0", "\xff\xff", "PRESSURE-MB;SN1\0", "\0\x01"),
  ),
  change: fc.oneof(
    { weight: 2, arbitrary: fc.constant(null) },
    { weight: 1, arbitrary: mutated(["\x01"], 3).map((text) => () => text) },
    { weight: 2, arbitrary: mangling },
  ),
  sizes: fc.array(fc.integer({ min: 1, max: 20 }), { minLength: 1, maxLength: 4 }),
});

function cable(profile: ModbusGaugeProfile, answers: readonly Answering[]) {
  const clock = new VirtualClock();
  let turn = 0;
  const attach = (far: FarEnd) => {
    far.onBytes((question) => {
      const answer = answers[turn++ % answers.length];
      if (!answer) return;
      const sound = soundAnswer(question, profile.modbus.framing, answer.data);
      const text = answer.change ? answer.change(sound) : sound;
      for (const piece of pieces({ text, sizes: answer.sizes })) far.send(piece.toString("latin1"));
    });
  };
  const { modbus: link, port } = profile;
  const bytes = new MemoryTransport({ instrument: "gauge", clock, attach });
  return { clock, transport: new ModbusTransport({ instrument: "gauge", link, port, clock, bytes }) };
}

const SETTLED_s = 60;

const gauges = fuzzTarget(
  "Modbus gauges",
  6_000,
  fc.record({
    profile: fc.constantFrom(...GAUGES),
    isNamed: fc.boolean(),
    answers: fc.array(answering, { minLength: 1, maxLength: 4 }),
  }),
  async ({ profile: { identity, ...unnamed }, isNamed, answers }) => {
    const profile = isNamed && identity ? { ...unnamed, identity } : unnamed;
    const { clock, transport } = cable(profile, answers);
    const gauge = new ModbusGauge({ name: "gauge", profile, transport, clock });
    let isRead = false;
    try {
      await clock.runUntil(gauge.connect());
      const readings = await clock.runUntil(gauge.read());
      require(readings.length === profile.channels.length, "has not one reading a channel");
      for (const { value, quality } of readings) {
        require(Number.isFinite(value) === (quality === "good"), `${quality} but ${value}`);
      }
      isRead = true;
    } catch (error) {
      requireSentence(requireDeclared(error, DriverError).message);
    }
    require(clock.now_s() <= SETTLED_s, `takes ${clock.now_s()} s to make up its mind`);
    await gauge.close();
    return isRead;
  },
);

export const MODBUS_TARGETS: readonly FuzzTarget[] = [gauges];
