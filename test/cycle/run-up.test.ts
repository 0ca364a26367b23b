import { describe, expect, it } from "vitest";
import type { Reading } from "../../drivers/ports.ts";
import { randomStream } from "../../sim/random.ts";
import type { RunUpOrder } from "../../station/cycle/run-up-watch.ts";
import { createWatcher, type Outcome, type Untrusted } from "../../station/cycle/watchers.ts";

const ORDER: RunUpOrder = {
  steady: { within: 0.01, window_s: 0.4, ahead_s: 2 },
  runningAbove_W: 100,
  powerHighest_W: 1600,
  inrushLongest_s: 2,
  supplyVoltage_V: 230,
  supplyTolerance_V: 5,
  suctionPerVoltage: 1.1,
  flowChannel: "flow",
  isInletClosed: true,
  scatterFloor: (channel) => ({ suction: 10, flow: 5e-5, power: 1, voltage: 0.05 })[channel] ?? 0,
  longest_s: 40,
};

type Channel = "suction" | "flow" | "power" | "voltage";
type Shown = Partial<Record<Channel, (t_s: number) => number>>;

const RISEN = (tau_s: number) => (t_s: number) => 1 - Math.exp(-t_s / tau_s);
const SOUND: Required<Shown> = {
  suction: (t_s) => 20_000 * RISEN(0.4)(t_s),
  flow: () => 0,
  power: (t_s) => 760 + 900 * Math.exp(-t_s / 0.4),
  voltage: () => 230,
};

/** Twenty readings a second of every channel, with a tenth of a percent of noise, until the watcher ends. */
function runUp(
  shown: Shown,
  { order = ORDER, noise = 0.001, seed = 1, noiseOf = {} as Partial<Record<Channel, number>> } = {},
): { readonly end: Outcome | Untrusted; readonly at_s: number } {
  const watcher = createWatcher({ watch: "run_up", ...order });
  const random = randomStream(seed, "run-up");
  const truth = { ...SOUND, ...shown };
  for (let i = 1; i < 2000; i++) {
    const t_s = i * 0.05;
    for (const channel of ["suction", "flow", "power", "voltage"] as const) {
      const value = truth[channel](t_s) * (1 + (noiseOf[channel] ?? noise) * random.normal());
      const reading: Reading = { channel, t_s: 100 + t_s, value, quality: "good" };
      const end = watcher.accept([reading]);
      if (end) return { end, at_s: t_s };
    }
  }
  throw new Error("The run-up did not end.");
}

function reasonOf(end: Outcome | Untrusted) {
  if (end.kind === "untrusted") return { against: "station", ...end.reason };
  if (end.kind === "finding") return { against: end.finding.against, ...end.finding.reason };
  throw new Error(`It ended as ${end.kind}.`);
}

describe("a run-up", () => {
  it("is over with suction and power within what the limit file says of where they end, whatever time constant, noise and ripple", () => {
    const late: number[] = [];
    let tooSoon = 0;
    const runs = 300;
    for (let seed = 0; seed < runs; seed++) {
      const random = randomStream(seed, "kinds of run-up");
      const tau_s = 0.1 * 30 ** random.uniform();
      const ripple = random.chance(0.25) ? 0 : random.between(0.005, 0.01);
      const frequency_Hz = 0.5 * 24 ** random.uniform();
      const phase = random.between(0, 2 * Math.PI);
      const noise = random.between(0.001, 0.003);
      const swing = (t_s: number) => 1 + ripple * Math.sin(2 * Math.PI * frequency_Hz * t_s + phase);
      // A first-order gauge with 0.1 s of lag behind a first-order run-up.
      const left = (t_s: number) =>
        (tau_s * Math.exp(-t_s / tau_s) - 0.1 * Math.exp(-t_s / 0.1)) / (tau_s - 0.1 || 1e-9);
      const { end, at_s } = runUp(
        {
          suction: (t_s) => 20_000 * (1 - left(t_s)) * swing(t_s),
          power: (t_s) => 760 * (1 + 1.1 * left(t_s)) * swing(t_s),
        },
        { noise, seed },
      );
      expect(end.kind).toBe("run_up");
      if (1.1 * left(at_s) > 0.01) tooSoon++;
      late.push(at_s - tau_s * Math.log(100));
    }
    expect(tooSoon).toBeLessThanOrEqual(runs / 100);
    // An exact exponential without noise or ripple is within one percent after ln 100 = 4.6 time constants.
    late.sort((a, b) => a - b);
    expect(late[Math.floor(0.5 * runs)]).toBeLessThan(3);
    expect(late[Math.floor(0.98 * runs)]).toBeLessThan(6);
  });

  it("gives all its readings on, from switching on", () => {
    const { end, at_s } = runUp({});
    if (end.kind !== "run_up") throw new Error("not steady");
    expect(end.readings.length / 4).toBeCloseTo(at_s / 0.05, -0.7);
    expect(end.readings[0]?.t_s).toBe(100.05);
  });

  it("is over sooner by the stricter of suction and power only when both are steady", () => {
    const both = runUp({}).at_s;
    const slowPower = runUp({ power: (t_s) => 760 + 900 * Math.exp(-t_s / 1.2) }).at_s;
    expect(slowPower).toBeGreaterThan(both + 1);
  });
});

describe("a run-up that fails, fails clearly:", () => {
  const order = { ...ORDER, longest_s: 6 };

  it("a motor that draws nothing did not start", () => {
    const { end, at_s } = runUp({ suction: () => 0, power: () => 0.3 }, { order, noiseOf: { power: 0.5 } });
    expect(reasonOf(end)).toMatchObject({ against: "unit", code: "MOTOR_DID_NOT_START" });
    expect(at_s).toBeCloseTo(6.05, 1);
  });

  it("and a wild reading or two of power do not make it one that has run", () => {
    const wild = (t_s: number) => (t_s > 2.02 && t_s < 2.12 ? 400 : 0.3);
    const { end } = runUp({ suction: () => 0, power: wild }, { order, noiseOf: { power: 0.5 } });
    expect(reasonOf(end)).toMatchObject({ against: "unit", code: "MOTOR_DID_NOT_START" });
  });

  it("but with suction there, the power meter is doubted and not the motor", () => {
    const { end } = runUp({ power: () => 0 }, { order });
    expect(reasonOf(end)).toMatchObject({ against: "station", code: "NOT_TRUSTED" });
  });

  it.each([
    [90, 0, "MOTOR_DID_NOT_START"],
    [110, 0, "NOT_TRUSTED"],
    [110, 10, "NOT_TRUSTED"],
    [190, 20, "MOTOR_DID_NOT_START"],
    [210, 20, "NOT_TRUSTED"],
  ])(
    "but a draught of %d Pa on a gauge certified to %d Pa is no suction: %s",
    (draught_Pa, floor_Pa, code) => {
      const shown = { suction: () => draught_Pa, power: () => 0 };
      const { end } = runUp(shown, { order: { ...order, scatterFloor: () => floor_Pa } });
      expect(reasonOf(end).code).toBe(code);
    },
  );

  it("a motor that runs while nothing arrives at the plenum is void: the hose may be off", () => {
    const nothing = randomStream(5, "plenum at rest");
    const { end } = runUp({ suction: () => 2 * nothing.normal() }, { order });
    const { against, code, sentence } = reasonOf(end);
    expect({ against, code }).toEqual({ against: "station", code: "NOT_TRUSTED" });
    expect(sentence).toMatch(/^The motor draws 7[56]\d W, but no suction .* hose is on .* loose fan/);
  });

  it("but through an inlet that stands wide open, flow shows it as well as suction", () => {
    const open = { ...order, isInletClosed: false };
    const draught = randomStream(5, "wide open");
    const suction = () => 20 + 2 * draught.normal();
    expect(runUp({ suction, flow: (t_s) => 0.05 * RISEN(0.4)(t_s) }, { order: open }).end.kind).toBe(
      "run_up",
    );
    const flow = () => 4e-4 + 1e-5 * draught.normal();
    for (const floor_m3_s of [5e-5, 0]) {
      const scatterFloor = (it: string) => (it === "flow" ? floor_m3_s : ORDER.scatterFloor(it));
      const { end } = runUp({ suction, flow }, { order: { ...open, scatterFloor } });
      expect(reasonOf(end)).toMatchObject({ against: "station", code: "NOT_TRUSTED" });
    }
    // Through a closed inlet, no flow is the motor's.
    const { end } = runUp({ suction, flow: () => 0.02 }, { order });
    expect(reasonOf(end)).toMatchObject({ against: "station", code: "NOT_TRUSTED" });
  });

  it.each([1.8, 3, 4.5])("a motor with a time constant of %d s stays slow", (tau_s) => {
    const shown: Shown = {
      suction: (t_s) => 20_000 * RISEN(tau_s)(t_s) ** 2,
      power: (t_s) => 760 * RISEN(tau_s)(t_s) ** 3 + 900 * Math.exp(-t_s / tau_s),
    };
    const { against, code, sentence } = reasonOf(runUp(shown, { order }).end);
    expect({ against, code }).toEqual({ against: "unit", code: "MOTOR_STAYS_SLOW" });
    expect(sentence).toMatch(/6 s after switching on .* rises by \d+ Pa/);
  });

  it("but not one whose rise has just come to its end", () => {
    const suction = (t_s: number) => 20_000 - 1_500 * Math.max(0, 5.3 - t_s);
    expect(reasonOf(runUp({ suction }, { order }).end)).toMatchObject({
      against: "station",
      code: "NOT_STEADY",
    });
  });

  it("and one whose supply explains the rise is void: the motor may be sound", () => {
    const rise = (t_s: number) => 1 + 0.012 * (t_s - 3);
    const shown: Shown = {
      suction: (t_s) => SOUND.suction(t_s) * rise(t_s) ** 1.1,
      power: (t_s) => SOUND.power(t_s) * rise(t_s) ** 1.65,
    };
    const noiseOf = { voltage: 1e-4 };
    const wide = { ...order, supplyTolerance_V: 20 };
    expect(reasonOf(runUp(shown, { order: wide, noiseOf }).end).code).toBe("MOTOR_STAYS_SLOW");
    const drifting = runUp({ ...shown, voltage: (t_s) => 230 * rise(t_s) }, { order: wide, noiseOf });
    expect(reasonOf(drifting.end)).toMatchObject({ against: "station", code: "NOT_STEADY" });
    expect(reasonOf(drifting.end).sentence).toMatch(/^The supply voltage drifts/);
    // A motor held at constant speed does not answer to its voltage.
    const held = { ...wide, suctionPerVoltage: 0 };
    const { end } = runUp({ ...shown, voltage: (t_s) => 230 * rise(t_s) }, { order: held, noiseOf });
    expect(reasonOf(end).code).toBe("MOTOR_STAYS_SLOW");
  });

  it("a motor that draws too much once its inrush is over is switched off within half a second", () => {
    const { end, at_s } = runUp({ power: (t_s) => 1700 + 1500 * Math.exp(-t_s / 0.3) }, { order });
    expect(reasonOf(end)).toMatchObject({ against: "unit", code: "MOTOR_DRAWS_TOO_MUCH" });
    expect(at_s).toBeLessThan(2.5);
    expect(reasonOf(end).sentence).toMatch(/draws 1[67]\d\d W.*1600 W/);
  });

  it("and one whose inrush does not fall at all, sooner still", () => {
    const { end, at_s } = runUp({ suction: () => 0, power: () => 2300 }, { order });
    expect(reasonOf(end)).toMatchObject({ against: "unit", code: "MOTOR_DRAWS_TOO_MUCH" });
    expect(at_s).toBeLessThan(1);
  });

  it("but not one whose inrush is large and falls in time", () => {
    const { end } = runUp({ power: (t_s) => 760 + 3000 * Math.exp(-t_s / 0.5) }, { order });
    expect(end.kind).toBe("run_up");
  });

  it.each([
    [5, "run_up"],
    [6, "finding"],
  ])("and of which %d readings in a row are too high ends as %s", (count, kind) => {
    const spark = (t_s: number) => (t_s > 2.52 && t_s < 2.52 + count * 0.05 ? 1800 : 760);
    expect(runUp({ power: spark }).end.kind).toBe(kind);
  });

  it("and whose readings above it are all the same has a power meter that stands still", () => {
    const stuck = (t_s: number) => (t_s > 2.52 ? 1800 : 760 + Math.sin(997 * t_s));
    const { end } = runUp({ power: stuck }, { noiseOf: { power: 0 } });
    expect(reasonOf(end)).toMatchObject({ against: "station", code: "GAUGE_FROZEN" });
  });

  it("surging without a trend is void, and says of what", () => {
    const surge = (t_s: number) => 20_000 * (1 + 0.08 * Math.sin(6 * t_s));
    const { against, code, sentence } = reasonOf(runUp({ suction: surge }, { order }).end);
    expect({ against, code }).toEqual({ against: "station", code: "NOT_STEADY" });
    expect(sentence).toMatch(/^Suction did not become steady within 6 s/);
  });

  it("a motor that stops again is void", () => {
    const { code, sentence } = reasonOf(runUp({ power: (t_s) => (t_s < 1 ? 900 : 0) }, { order }).end);
    expect(code).toBe("NOT_STEADY");
    expect(sentence).toMatch(/stopped drawing power/);
  });
});

describe("gauges in a run-up", () => {
  it.each(["suction", "power"] as const)("that stand still pass nothing on: %s", (channel) => {
    const { end, at_s } = runUp(
      { [channel]: () => (channel === "suction" ? 0 : 760) },
      { noiseOf: { [channel]: 0 } },
    );
    expect(reasonOf(end)).toMatchObject({ code: "GAUGE_FROZEN", against: "station" });
    expect(reasonOf(end).sentence).toContain(channel);
    expect(at_s).toBeLessThan(3);
  });

  it("that stand still late, near where they would end, pass nothing on either", () => {
    const { end } = runUp(
      { suction: (t_s) => (t_s > 2.2 ? 19_900 : 19_900 * RISEN(0.4)(t_s) + 5 * Math.sin(997 * t_s)) },
      { noiseOf: { suction: 0 } },
    );
    expect(reasonOf(end)).toMatchObject({ code: "GAUGE_FROZEN" });
  });

  it.each([
    ["suction", 19_900],
    ["power", 760],
    ["voltage", 230],
  ] as const)(
    "end no run-up while %s still shows the one value it has shown for a while",
    (channel, value) => {
      // Too short to be called frozen: suction and power would end a sound run-up within that time.
      const rests = (t_s: number) =>
        t_s > 1.82 && t_s < 3.72 ? value : SOUND[channel](t_s) + 5 * Math.sin(997 * t_s) * 1e-3;
      const { end, at_s } = runUp({ [channel]: rests }, { noiseOf: { [channel]: 0 } });
      expect(end.kind).toBe("run_up");
      expect(at_s).toBeGreaterThan(3.72);
      expect(runUp({}).at_s).toBeLessThan(3.72);
    },
  );

  it("that stand still for a second and a half, and then go on, hold it up and no more", () => {
    const resting = (t_s: number) => (t_s > 1.5 && t_s < 3 ? 19_500 : 19_900 + 5 * Math.sin(997 * t_s));
    const { end, at_s } = runUp(
      { suction: (t_s) => (t_s < 1.5 ? SOUND.suction(t_s) : resting(t_s)) },
      { noiseOf: { suction: 0 } },
    );
    expect(end.kind).toBe("run_up");
    expect(at_s).toBeGreaterThan(3);
  });

  it("may show a flow of exactly nothing through a closed inlet, but no other flow without noise, nor through an open one", () => {
    expect(runUp({ flow: () => 0 }).end.kind).toBe("run_up");
    const stuck = { flow: () => 0.012 };
    expect(reasonOf(runUp(stuck, { noiseOf: { flow: 0 } }).end)).toMatchObject({ code: "GAUGE_FROZEN" });
    const open = { order: { ...ORDER, isInletClosed: false } };
    expect(reasonOf(runUp({ flow: () => 0 }, open).end)).toMatchObject({ code: "GAUGE_FROZEN" });
  });

  it("too coarse to show their noise, which repeat themselves often, still end a run-up", () => {
    const watcher = createWatcher({ watch: "run_up", ...ORDER });
    const random = randomStream(3, "coarse");
    let end: Outcome | Untrusted | undefined;
    for (let i = 1; i < 800 && !end; i++) {
      for (const channel of ["suction", "flow", "power", "voltage"] as const) {
        const exact = SOUND[channel](i * 0.05) * (1 + 0.001 * random.normal());
        // Suction in steps of 40 Pa, twice its noise: most readings equal the one before.
        const value = channel === "suction" ? Math.round(exact / 40) * 40 : exact;
        end ??= watcher.accept([{ channel, t_s: i * 0.05, value, quality: "good" }]);
      }
    }
    expect(end?.kind).toBe("run_up");
  });

  it.each([
    [234.9, "run_up"],
    [235.1, "untrusted"],
    [225.1, "run_up"],
    [224.9, "untrusted"],
  ])("at %d V of an allowed 225 to 235 V end it as %s", (mains_V, kind) => {
    expect(runUp({ voltage: () => mains_V }, { noiseOf: { voltage: 1e-4 } }).end.kind).toBe(kind);
  });

  it("that go on showing the voltage of before void the unit, whatever the motor does", () => {
    const frozen = { voltage: () => 230 };
    const options = { order: { ...ORDER, longest_s: 6 }, noiseOf: { voltage: 0 } };
    for (const motor of [{}, { suction: () => 0, power: () => 0 }] satisfies Shown[]) {
      const { end } = runUp({ ...frozen, ...motor }, options);
      expect(reasonOf(end)).toMatchObject({ against: "station", code: "GAUGE_FROZEN" });
      expect(reasonOf(end).sentence).toContain("supply voltage");
    }
  });

  it("may show one voltage all the time where the voltmeter is certified to no better than 0.1 V", () => {
    const scatterFloor = (channel: string) => (channel === "voltage" ? 0.3 : ORDER.scatterFloor(channel));
    const shown = { voltage: () => 230 };
    expect(runUp(shown, { order: { ...ORDER, scatterFloor }, noiseOf: { voltage: 0 } }).end.kind).toBe(
      "run_up",
    );
  });

  it("may repeat a voltage of 0.1 V resolution on calm mains now and then", () => {
    for (let seed = 0; seed < 100; seed++) {
      const calm = randomStream(seed, "calm mains");
      let mains_V = 230 + calm.between(-0.05, 0.05);
      const voltage = () => {
        mains_V += 0.01 * calm.normal();
        return Math.round((mains_V + 0.02 * calm.normal()) * 10) / 10;
      };
      expect(runUp({ voltage }, { seed, noiseOf: { voltage: 0 } }).end.kind).toBe("run_up");
    }
  });

  it("let the supply dip for two readings, as an inrush makes it, and not for three", () => {
    const dip = (readings: number) => (t_s: number) =>
      t_s > 0.52 && t_s < 0.52 + readings * 0.05 ? 218 : 230;
    expect(runUp({ voltage: dip(2) }).end.kind).toBe("run_up");
    expect(reasonOf(runUp({ voltage: dip(3) }).end)).toMatchObject({ code: "SUPPLY_OUT_OF_TOLERANCE" });
  });
});
