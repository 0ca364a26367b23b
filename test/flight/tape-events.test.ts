import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { TAPE_EVENT_KINDS, type TapeEvent } from "../../station/flight/tape-event.ts";
import { readTapeEvents, TapeDamaged, TapeWriter } from "../../station/flight/tape-events-codec.ts";

const INSTRUMENTS = ["leak_gauge", "io_block"];

const instrument = fc.constantFrom(...INSTRUMENTS);
const bytes = fc.uint8Array({ maxLength: 300 }).map((octets) => Buffer.from(octets));
const levels = fc.dictionary(fc.string(), fc.boolean()).map((it) => ({ ...it }));
// The microseconds of a machine's clock, and the fractions of a virtual one.
const t_s = fc.oneof(
  fc.nat(2 ** 31).map((us) => us / 1e6),
  fc.double({ min: 0, max: 1e8, noNaN: true }),
);

const event: fc.Arbitrary<TapeEvent> = fc.oneof(
  fc.record({ t_s, kind: fc.constantFrom("heard", "sent"), instrument, bytes }),
  fc.record({ t_s, kind: fc.constantFrom("opened", "shut"), instrument }),
  fc.record({ t_s, kind: fc.constantFrom("readings", "fault"), instrument }),
  fc.record({
    t_s,
    kind: fc.constantFrom("refused", "lost"),
    instrument,
    code: fc.string(),
    message: fc.string(),
  }),
  fc.record({ t_s, kind: fc.constant("levels"), instrument, levels }),
  fc.record({ t_s, kind: fc.constant("called"), instrument, levels: fc.option(levels) }),
  fc.record({
    t_s,
    kind: fc.constant("ended"),
    instrument,
    call: fc.constantFrom("connect", "read", "set"),
    number: fc.integer(),
    well: fc.boolean(),
  }),
  fc.record({ t_s, kind: fc.constant("now") }),
  fc.record({ t_s, kind: fc.constant("ran"), instrument, label: fc.nat(65_520) }),
  fc.record({ t_s, kind: fc.constant("wall"), wall_ms: fc.nat(2 ** 42) }),
  fc.record({ t_s, kind: fc.constant("timer"), delay_ms: fc.double({ min: 0, max: 1e6, noNaN: true }) }),
  fc.record({ t_s, kind: fc.constant("told"), event: fc.constant({ type: "ABORT" }) }),
  fc.record({
    t_s,
    kind: fc.constant("given"),
    what: fc.constantFrom("begun", "ambient"),
    value: fc.constant(null),
  }),
) as fc.Arbitrary<TapeEvent>;

function written(events: readonly TapeEvent[]): Buffer {
  const writer = new TapeWriter(INSTRUMENTS);
  for (const one of events) writer.add(one);
  return Buffer.from(writer.bytes());
}

describe("a tape's events", () => {
  it("are read as they were written, every time to the last bit and every byte", () => {
    fc.assert(
      fc.property(fc.array(event, { maxLength: 60 }), (events) => {
        expect([...readTapeEvents(written(events), INSTRUMENTS)]).toEqual(events);
      }),
    );
  });

  it("have each kind in the check above", () => {
    const drawn = fc.sample(event, { numRuns: 2000, seed: 1 });
    expect(new Set(drawn.map(({ kind }) => kind))).toEqual(new Set(TAPE_EVENT_KINDS));
  });

  it("that were cut off are read up to the cut, and then said to be damaged", () => {
    fc.assert(
      fc.property(fc.array(event, { minLength: 1, maxLength: 20 }), fc.nat(), (events, at) => {
        const whole = written(events);
        const cut = whole.subarray(0, at % whole.length);
        const read: TapeEvent[] = [];
        let damage: unknown = null;
        try {
          for (const one of readTapeEvents(cut, INSTRUMENTS)) read.push(one);
        } catch (error) {
          damage = error;
        }
        expect(read).toEqual(events.slice(0, read.length));
        if (damage !== null) expect(damage).toBeInstanceOf(TapeDamaged);
        expect(read.length).toBeLessThan(events.length);
      }),
    );
  });

  it("take a few bytes beside what was said", () => {
    const line = Buffer.from("N=004711 P=-7998.42 S=0\r\n");
    const one = (k: number): TapeEvent => ({
      t_s: 100 + k * 0.02,
      kind: "heard",
      instrument: "leak_gauge",
      bytes: line,
    });
    const fifty = written(Array.from({ length: 50 }, (_, k) => one(k))).length;
    expect(fifty).toBeLessThan(50 * (line.length + 8));
  });

  it("beyond what a tape may hold are left out, and the tape says so", () => {
    const writer = new TapeWriter(INSTRUMENTS, 100);
    for (let k = 0; k < 50; k++) writer.add({ t_s: k, kind: "now" });
    expect(writer.isFull).toBe(true);
    expect(writer.bytes().length).toBeLessThan(120);
  });
});
