import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { DriverError, Reading } from "../../drivers/ports.ts";
import type { GaugeProfile } from "../../drivers/profile.ts";
import { readProfile } from "../../drivers/profile-file.ts";
import { AsciiLineGauge } from "../../drivers/protocols/ascii-line.ts";
import { ReplyReader } from "../../drivers/protocols/reply-reader.ts";
import { gaugeProfile, memoryRig, type Script } from "./rigs.ts";

const IDN = "DEMO WORKS,PRESSURE,SN0001,1.0\n";
const ID = "ID=STREAM-PRESSURE;SN=0001;FW=1.0\r\n";

function bench(profile: GaugeProfile, script: Script, greeting = "") {
  const rig = memoryRig(profile, script, greeting);
  const gauge = new AsciiLineGauge({ name: "gauge", profile, transport: rig.transport, clock: rig.clock });
  const faults: DriverError[] = [];
  const got: Reading[] = [];
  const listener = {
    readings: (readings: readonly Reading[]) => void got.push(...readings),
    fault: (error: DriverError) => void faults.push(error),
  };
  return { ...rig, gauge, faults, got, listener, connect: () => rig.clock.runUntil(gauge.connect()) };
}

const polled = (script: Script) => bench(gaugeProfile("scpi-pressure"), script);
const streaming = (script: Script = (_command, far) => far.send(ID)) =>
  bench(gaugeProfile("stream-pressure"), script);
const line = (number: number, pressure = "+0.00") =>
  `N=${String(number).padStart(6, "0")} P=${pressure} S=0\r\n`;

describe("a polled gauge", () => {
  it("waits for an answer as long as its profile says, and no longer", async () => {
    const bed = polled((command, far) => {
      if (command === "*IDN?") far.send(IDN);
      else bed.clock.setTimeout(() => far.send("+1.0E+00\n"), 299);
    });
    await bed.connect();
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 1, t_s: 0.299 }]);
  });

  it("never takes a late answer for the next question's", async () => {
    let late = true;
    let oldEnd: { send(bytes: string): void } | undefined;
    const bed = polled((command, far) => {
      if (command === "*IDN?") far.send(IDN);
      if (command !== "MEAS:PRES?") return;
      if (late) oldEnd = far;
      else far.send("+2.0E+00\n");
    });
    await bed.connect();
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({ code: "REPLY_TIMEOUT" });
    late = false;
    await bed.connect();
    const reading = bed.gauge.read();
    oldEnd?.send("+1.0E+00\n");
    expect(await bed.settle(reading)).toMatchObject([{ value: 2 }]);
  });

  it("without an identity, hears a late answer out before its first question", async () => {
    const { identity: _asked, whenSilent: _why, ...bare } = gaugeProfile("scpi-pressure");
    // Its first answer takes 350 ms, which is too long, the others 250 ms: as long as that they would follow one late.
    let asked = 0;
    const bed = bench(bare, () => {
      const answer = `+${++asked}.0E+00\n`;
      bed.clock.setTimeout(() => bed.far().send(answer), asked === 1 ? 350 : 250);
    });
    await bed.connect();
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({ code: "REPLY_TIMEOUT" });
    await bed.connect();
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 2 }]);
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 3 }]);
  });

  it("tells everybody who waits when the connection ends", async () => {
    const bed = polled((command, far) => void (command === "*IDN?" && far.send(IDN)));
    await bed.connect();
    const reads = Promise.allSettled([bed.gauge.read(), bed.gauge.read(), bed.gauge.read()]);
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(0.01);
    bed.far().hangUp();
    const outcomes = await bed.settle(reads);
    for (const outcome of outcomes) expect(outcome).toMatchObject({ reason: { code: "PORT_LOST" } });
    expect(bed.faults).toMatchObject([{ code: "PORT_LOST" }]);
  });

  it("asks one question at a time", async () => {
    const bed = polled((command, far) => {
      if (command === "*IDN?") far.send(IDN);
      else bed.clock.setTimeout(() => far.send(`${bed.received.length}\n`), 10);
    });
    await bed.connect();
    const reads = Promise.all([bed.gauge.read(), bed.gauge.read(), bed.gauge.read()]);
    const values = (await bed.settle(reads)).map(([reading]) => reading?.value);
    expect(values).toEqual([2, 3, 4]);
  });

  it("leaves out the polls a slow answer delayed instead of catching up with them", async () => {
    const times_s: number[] = [];
    const bed = polled((command, far) => {
      if (command === "*IDN?") far.send(IDN);
      if (command !== "MEAS:PRES?") return;
      times_s.push(bed.clock.now_s());
      bed.clock.setTimeout(() => far.send("0\n"), times_s.length === 2 ? 170 : 0);
    });
    await bed.connect();
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(0.35);
    expect(times_s.map((t_s) => Math.round(t_s * 1000))).toEqual([0, 50, 220, 270, 320]);
    expect(bed.faults).toEqual([]);
  });

  it("ignores a greeting and answers to somebody who has gone, before it has asked anything", async () => {
    const bed = bench(
      { ...gaugeProfile("scpi-pressure"), waitAfterOpen_s: 0.1 },
      (command, far) => far.send(command === "*IDN?" ? IDN : "+3.0E+00\n"),
      "READY\n+9.0E+00\n+9.0",
    );
    await bed.connect();
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 3 }]);
  });

  it("stops polling when nobody watches, and reports no fault when it is closed", async () => {
    const bed = polled((command, far) => far.send(command === "*IDN?" ? IDN : "0\n"));
    await bed.connect();
    const stop = bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(0.12);
    stop();
    await bed.clock.advance_s(1);
    expect(bed.received.filter((command) => command === "MEAS:PRES?")).toHaveLength(3);
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(0);
    await bed.gauge.close();
    await bed.clock.advance_s(1);
    expect(bed.faults).toEqual([]);
    expect(bed.got).toHaveLength(4);
  });

  it("reports a fault at once when it is watched without being connected", async () => {
    const bed = polled(() => undefined);
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(0);
    expect(bed.faults).toMatchObject([
      { code: "PORT_LOST", message: "gauge is not connected; check its cable and supply." },
    ]);
  });

  it("is left alone after the open as long as its profile says", async () => {
    const base = gaugeProfile("scpi-pressure");
    const bed = bench({ ...base, waitAfterOpen_s: 2 }, (_command, far) => far.send(IDN));
    const connecting = bed.gauge.connect();
    await bed.clock.advance_s(1.99);
    expect(bed.received).toEqual([]);
    await bed.settle(connecting);
    expect(bed.received).toEqual(["*IDN?"]);
  });

  it("names an error reply as the instrument's own words", async () => {
    const base = gaugeProfile("scpi-pressure");
    const bed = bench({ ...base, errors: [/^ERR \d+$/] }, (command, far) =>
      far.send(command === "*IDN?" ? IDN : "ERR 7\n"),
    );
    await bed.connect();
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({
      code: "INSTRUMENT_ERROR",
      message: 'gauge reports "ERR 7"; look up in its manual what that means, and set it right.',
    });
  });

  it("can be closed while it is being connected", async () => {
    const bed = polled((_command, far) => far.send(IDN));
    const connecting = bed.gauge.connect().catch((error: unknown) => error);
    await bed.gauge.close();
    expect(await bed.settle(connecting)).toMatchObject({ code: "PORT_LOST" });
    await expect(bed.gauge.read()).rejects.toMatchObject({ code: "PORT_LOST" });
  });
});

describe("a streaming gauge", () => {
  it("never uses the first line after connecting: its beginning may be cut off", async () => {
    const base = gaugeProfile("stream-pressure");
    const { sequence, status, identity, ...rest } = base;
    const bed = bench({ ...rest, reply: /^(?<leak_pressure>[+-]?\d+\.\d\d)$/ }, () => undefined);
    await bed.connect();
    bed.gauge.watch(bed.listener);
    bed.far().send("98.42\r\n-7998.42\r\n");
    await bed.clock.advance_s(0);
    expect(bed.got.map(({ value }) => value)).toEqual([-7998.42]);
  });

  it("is called silent, not wrong, when it streams but does not say who it is", async () => {
    const bed = bench(gaugeProfile("stream-pressure"), () => undefined, `42 S=0\r\n${line(1)}`);
    await expect(bed.connect()).rejects.toMatchObject({ code: "REPLY_TIMEOUT" });
  });

  it("gives a read the next line, not one that had come before", async () => {
    const bed = streaming();
    await bed.connect();
    bed.far().send(line(1, "-1.00") + line(2, "-2.00"));
    await bed.clock.advance_s(0.05);
    const reading = bed.gauge.read();
    bed.clock.setTimeout(() => bed.far().send(line(3, "-3.00") + line(4, "-4.00")), 20);
    expect(await bed.settle(reading)).toEqual([
      { channel: "leak_pressure", t_s: 0.07, value: -3, quality: "good", sequence: 3 },
    ]);
  });

  it("answers its identity in the middle of the stream without losing a line", async () => {
    const bed = bench(
      gaugeProfile("stream-pressure"),
      (_command, far) => far.send(line(2) + ID + line(3)),
      line(0) + line(1),
    );
    await bed.connect();
    bed.gauge.watch(bed.listener);
    bed.far().send(line(4));
    await bed.clock.advance_s(0);
    expect(bed.faults).toEqual([]);
    expect(bed.got.map(({ sequence }) => sequence)).toEqual([4]);
    expect(bed.gauge.identity).toBe(ID.trim());
  });

  it("is stale after its profile's silence even if nobody watches, and tells the next who does", async () => {
    const bed = streaming();
    await bed.connect();
    bed.far().send(line(1));
    await bed.clock.advance_s(0.999);
    bed.far().send(line(2));
    await bed.clock.advance_s(0.999);
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(0);
    expect(bed.faults).toEqual([]);
    await bed.clock.advance_s(0.002);
    expect(bed.faults).toMatchObject([{ code: "REPLY_TIMEOUT" }]);
    await expect(bed.gauge.read()).rejects.toMatchObject({ code: "REPLY_TIMEOUT" });
  });

  it("tells each fault once, and starts its count anew after connecting again", async () => {
    const bed = streaming();
    await bed.connect();
    bed.gauge.watch(bed.listener);
    bed.far().send(line(1) + line(5) + line(9) + line(9));
    await bed.clock.advance_s(1);
    expect(bed.faults).toMatchObject([{ code: "OUT_OF_SEQUENCE" }]);
    await bed.connect();
    bed.gauge.watch(bed.listener);
    bed.far().send(line(700) + line(701));
    await bed.clock.advance_s(0.1);
    expect(bed.faults).toHaveLength(1);
    expect(bed.got.map(({ sequence }) => sequence)).toEqual([1, 700, 701]);
  });

  it("names exactly how many readings are missing, over the end of the counter too", async () => {
    const reader = () => new ReplyReader("gauge", gaugeProfile("stream-pressure"));
    await fc.assert(
      fc.asyncProperty(fc.nat(999_999), fc.integer({ min: 1, max: 499_999 }), async (start, missing) => {
        const subject = reader();
        subject.read(line(start).trim(), 0);
        expect(() => subject.read(line((start + 1 + missing) % 1_000_000).trim(), 0)).toThrow(
          new RegExp(`: ${missing} readings? (is|are) missing between`),
        );
      }),
    );
  });
});

describe("a gauge that sends its own time", () => {
  const text = `
drumtight: profile/1
kind: gauge
title: Gauge with a clock
port: { baud: 9600, data_bits: 8, parity: none, stop_bits: 1, flow_control: none }
line: { terminator: LF, longest_bytes: 80, idle_rest: 1 s }
reply_within: 1 s
stream: { stale_after: 1 s }
reply: '^(?<ms>\\d+) (?<p>{number})$'
channels: [{ name: p, quantity: pressure, unit: kPa }]
time: { group: ms, unit: ms }
`;
  const profile = readProfile("clocked", "clocked.yaml", text);
  if (profile.kind !== "gauge") throw new Error("not a gauge");

  it("has its readings timed by it, on our clock, whatever delays them on the way", () => {
    const reader = new ReplyReader("gauge", profile);
    const [first] = reader.read("5000 1.0", 100);
    expect(first?.t_s).toBe(100);
    const delays_s = [0.004, 0, 0.016, 0.003, 0.012];
    const times_s = delays_s.map(
      (delay_s, index) => reader.read(`${5020 + 20 * index} 1.0`, 100.02 + 0.02 * index + delay_s)[0]?.t_s,
    );
    for (const [index, t_s] of times_s.entries()) expect(t_s).toBeCloseTo(100.02 + 0.02 * index, 3);
  });

  it("follows a clock that runs slow or fast by a part in ten thousand for an hour", () => {
    for (const rate of [0.9999, 1.0001]) {
      const reader = new ReplyReader("gauge", profile);
      let worst_s = 0;
      for (let t_s = 0; t_s <= 3600; t_s += 0.5) {
        const jitter_s = (t_s % 1.5) / 150;
        const [reading] = reader.read(`${Math.round(t_s * rate * 1000)} 1.0`, t_s + jitter_s);
        worst_s = Math.max(worst_s, Math.abs((reading?.t_s ?? 0) - t_s));
      }
      expect(worst_s).toBeLessThan(0.012);
    }
  });

  it("keeps times in order however the arrivals jump", () => {
    const steps = fc.array(
      fc.record({
        gauge_ms: fc.integer({ min: 1, max: 500 }),
        jitter_s: fc.double({ min: 0, max: 2, noNaN: true }),
      }),
    );
    fc.assert(
      fc.property(steps, (sent) => {
        const reader = new ReplyReader("gauge", profile);
        let gauge_ms = 0;
        let last_s = Number.NEGATIVE_INFINITY;
        for (const step of sent) {
          gauge_ms += step.gauge_ms;
          const [reading] = reader.read(`${gauge_ms} 1.0`, gauge_ms / 1000 + step.jitter_s);
          expect(reading?.t_s).toBeGreaterThan(last_s);
          last_s = reading?.t_s ?? 0;
        }
      }),
    );
  });

  it("is out of sequence when its clock is set forward, and not when lines were held up", () => {
    const reader = new ReplyReader("gauge", profile);
    reader.read("5000 1.0", 1);
    reader.read("5020 1.0", 1.02);
    // Two seconds held up, then a hundred lines at once.
    for (let i = 1; i <= 100; i++) reader.read(`${5020 + 20 * i} 1.0`, 3.02);
    expect(() => reader.read("8100 1.0", 3.04)).toThrow(
      expect.objectContaining({
        code: "OUT_OF_SEQUENCE",
        message: expect.stringMatching(
          /went on by 1\.1 s.*came 0\.0 s later; check that nobody sets its clock/,
        ),
      }),
    );
  });

  it("is out of sequence when its time stands still or goes back", () => {
    for (const next of ["5000 1.0", "4000 1.0"]) {
      const reader = new ReplyReader("gauge", profile);
      reader.read("5000 1.0", 1);
      expect(() => reader.read(next, 2)).toThrow(expect.objectContaining({ code: "OUT_OF_SEQUENCE" }));
    }
  });
});
