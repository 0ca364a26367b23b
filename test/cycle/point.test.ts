import { describe, expect, it } from "vitest";
import type { Reading } from "../../drivers/ports.ts";
import { randomStream } from "../../sim/random.ts";
import type { ChannelSamples, PointOrder } from "../../station/cycle/point-watch.ts";
import { createWatcher, type Outcome, type Untrusted } from "../../station/cycle/watchers.ts";
import { mean as meanOf } from "../../station/measure/fit/mean.ts";

const ORDER: PointOrder = {
  point: "working",
  steady: { within: 0.01, window_s: 0.4, ahead_s: 2 },
  knownWithin: 0.003,
  samplesLeast: 8,
  earlier: [],
  runningAbove_W: 100,
  powerHighest_W: 1600,
  supplyVoltage_V: 230,
  supplyTolerance_V: 5,
  suctionPerVoltage: 1.1,
  flowChannel: "flow",
  isInletClosed: false,
  scatterFloor: () => 0,
  longest_s: 5,
};

type Channel = "suction" | "flow" | "flow_drop" | "power" | "voltage";
interface Shown {
  readonly truth?: Partial<Record<Channel, (t_s: number) => number>>;
  readonly noise?: Partial<Record<Channel, number>>;
  readonly seed?: number;
}

/** The orifice moves at 50 s: suction falls and flow rises within a third of a second. */
const SETTLED = (t_s: number) => 1 - Math.exp(-Math.max(0, t_s - 50) / 0.1);
const TRUTH: Record<Channel, (t_s: number) => number> = {
  suction: (t_s) => 20_000 - 8_000 * SETTLED(t_s),
  flow: (t_s) => 0.016 * SETTLED(t_s),
  flow_drop: (t_s) => 200 * SETTLED(t_s),
  power: (t_s) => 760 + 200 * SETTLED(t_s),
  voltage: () => 230,
};

function* readings(
  { truth = {}, noise = {}, seed = 1 }: Shown,
  channels: readonly Channel[] = ["suction", "flow", "power", "voltage"],
  from_s = 50,
): Generator<Reading> {
  const random = randomStream(seed, "point");
  for (let i = 1; ; i++) {
    const t_s = from_s + i * 0.05;
    for (const channel of channels) {
      const value = (truth[channel] ?? TRUTH[channel])(t_s);
      const scatter = (noise[channel] ?? 0.001) * random.normal();
      yield { channel, t_s, value: value * (1 + scatter), quality: "good" };
    }
  }
}

function hold(
  shown: Shown = {},
  changes: Partial<PointOrder> = {},
  channels?: readonly Channel[],
): { readonly end: Outcome | Untrusted; readonly after_s: number } {
  const watcher = createWatcher({ watch: "point", ...ORDER, ...changes });
  for (const reading of readings(shown, channels)) {
    const end = watcher.accept([reading]);
    if (end) return { end, after_s: reading.t_s - 50 };
    if (reading.t_s > 100) break;
  }
  throw new Error("The point did not end.");
}

function samplesOf(end: Outcome | Untrusted) {
  if (end.kind !== "steady") throw new Error(`not steady but ${JSON.stringify(end)}`);
  return end.samples;
}

function reasonOf(end: Outcome | Untrusted) {
  if (end.kind === "untrusted") return { against: "station", ...end.reason };
  if (end.kind === "finding") return { against: end.finding.against, ...end.finding.reason };
  throw new Error(`It ended as ${end.kind}.`);
}

const mean = ({ values }: ChannelSamples) => meanOf(values);

describe("a point", () => {
  it("ends with means that are right within what was wanted of them, for 95 of 100 units", () => {
    let off = 0;
    for (let seed = 0; seed < 200; seed++) {
      const { suction_Pa, flow_m3_s, power_W } = samplesOf(
        hold({ seed, noise: { suction: 0.002, flow: 0.003, power: 0.002 } }).end,
      );
      const errors = [mean(suction_Pa) / 12_000, mean(flow_m3_s) / 0.016, mean(power_W) / 960];
      if (errors.some((ratio) => Math.abs(ratio - 1) > ORDER.knownWithin)) off++;
    }
    expect(off).toBeLessThanOrEqual(10);
  });

  it("takes as long as its noise asks, and no longer", () => {
    const quiet = hold({ noise: { suction: 0.0003, flow: 0.0003, power: 0.0003 } }).after_s;
    const usual = hold().after_s;
    const noisy = hold({ noise: { flow: 0.008 } }).after_s;
    expect(quiet).toBeLessThan(1.5);
    expect(usual).toBeLessThan(2);
    expect(noisy).toBeGreaterThan(usual + 0.5);
  });

  it("has at least the samples asked for of every channel, all of one window", () => {
    for (const samplesLeast of [8, 20, 40]) {
      const samples = samplesOf(hold({}, { samplesLeast }).end);
      const { suction_Pa, flow_m3_s, power_W, voltage_V } = samples;
      for (const { values, t_s } of [suction_Pa, flow_m3_s, power_W, voltage_V]) {
        expect(values.length).toBeGreaterThanOrEqual(samplesLeast);
        expect(Math.abs(values.length - suction_Pa.values.length)).toBeLessThanOrEqual(1);
        expect(t_s).toHaveLength(values.length);
        expect(t_s[0]).toBeGreaterThan(samples.since_s);
      }
    }
  });

  it("has no reading of the orifice still moving among them", () => {
    for (let seed = 0; seed < 100; seed++) {
      const { suction_Pa } = samplesOf(hold({ seed }).end);
      expect(Math.max(...suction_Pa.values)).toBeLessThan(12_000 * 1.01);
    }
  });

  it("asks no mean to be known better than its gauge is certified", () => {
    const noise = { flow: 0.02 };
    expect(reasonOf(hold({ noise }).end).code).toBe("NOT_STEADY");
    expect(hold({ noise }, { scatterFloor: (it) => (it === "flow" ? 1e-4 : 0) }).end.kind).toBe("steady");
  });

  it("that goes on with a run-up ends with the next reading when that has shown enough", () => {
    const before: Reading[] = [];
    for (const reading of readings({}, undefined, 50)) {
      if (reading.t_s > 53) break;
      before.push(reading);
    }
    const watcher = createWatcher({ watch: "point", ...ORDER, earlier: before });
    const next = readings({}, undefined, 53);
    const ends = [next.next().value, next.next().value, next.next().value].map((it) => watcher.accept([it]));
    expect(ends.find((end) => end !== undefined)?.kind).toBe("steady");
  });

  it("takes flow from the drop over a plate, or from nothing but suction, where the station does", () => {
    const plate = samplesOf(
      hold({}, { flowChannel: "flow_drop" }, ["suction", "flow_drop", "power", "voltage"]).end,
    );
    expect(mean(plate.drop_Pa)).toBeCloseTo(200, -0.5);
    expect(plate.flow_m3_s.values).toEqual([]);
    const plenum = samplesOf(hold({}, { flowChannel: null }, ["suction", "power", "voltage"]).end);
    expect([plenum.flow_m3_s.values, plenum.drop_Pa.values]).toEqual([[], []]);
    expect(mean(plenum.suction_Pa)).toBeCloseTo(12_000, -2);
  });
});

describe("a point that does not end well", () => {
  it("is void when suction or power goes on moving, and says which", () => {
    const drifting = hold({ truth: { power: (t_s) => 960 - 12 * (t_s - 50) } });
    expect(reasonOf(drifting.end)).toMatchObject({ against: "station", code: "NOT_STEADY" });
    expect(reasonOf(drifting.end).sentence).toMatch(
      /^At working: input power did not become steady within 5 s/,
    );
    expect(drifting.after_s).toBeCloseTo(5.05, 1);
  });

  it("is void when the supply drifts, and says that it is the supply", () => {
    const drift = (t_s: number) => 1 + 0.01 * (t_s - 52);
    const truth = {
      suction: (t_s: number) => TRUTH.suction(t_s) * drift(t_s) ** 1.1,
      power: (t_s: number) => TRUTH.power(t_s) * drift(t_s) ** 1.65,
      voltage: (t_s: number) => 230 * drift(t_s),
    };
    const { end } = hold({ truth }, { supplyTolerance_V: 20 });
    expect(reasonOf(end).sentence).toMatch(/^At working: the supply voltage drifts/);
  });

  it("is void when a mean scatters too much, and says of which channel and by how much", () => {
    const { code, sentence } = reasonOf(hold({ noise: { flow: 0.03 } }).end);
    expect(code).toBe("NOT_STEADY");
    expect(sentence).toMatch(/flow scatters too much: .* known \d\.\d times worse than wanted/);
  });

  it("is void when a channel gives too few readings, and says which", () => {
    const watcher = createWatcher({ watch: "point", ...ORDER });
    let seen = 0;
    for (const reading of readings({})) {
      if (reading.channel === "flow" && seen++ % 20 > 0) continue;
      const end = watcher.accept([reading]);
      if (!end) continue;
      expect(reasonOf(end).sentence).toMatch(/fewer than 8 steady readings of flow/);
      return;
    }
  });

  it("is void when the motor stops", () => {
    const stops = (t_s: number) => (t_s < 50.6 ? 960 : 0);
    expect(reasonOf(hold({ truth: { power: stops } }).end)).toMatchObject({
      against: "station",
      code: "NOT_STEADY",
    });
  });

  it("is void when the hose has come off, and says where to look", () => {
    const still = randomStream(6, "hose off");
    const truth = { suction: () => 2 * still.normal(), flow: () => 1e-5 * still.normal() };
    const { against, code, sentence } = reasonOf(hold({ truth }, { scatterFloor: () => 10 }).end);
    expect({ against, code }).toEqual({ against: "station", code: "NOT_TRUSTED" });
    expect(sentence).toMatch(/^At working: the motor draws 9\d\d W, but no suction .* hose/);
    const plenum = hold({ truth }, { flowChannel: null, scatterFloor: () => 10 }, [
      "suction",
      "power",
      "voltage",
    ]);
    expect(reasonOf(plenum.end).code).toBe("NOT_TRUSTED");
  });

  it("is void when the power meter shows no motor, however steadily", () => {
    const shown = { truth: { power: () => 0.3 }, noise: { power: 0.5 } };
    const { end } = hold(shown, { scatterFloor: (it) => (it === "power" ? 1 : 0) });
    expect(reasonOf(end)).toMatchObject({ against: "station", code: "NOT_STEADY" });
    expect(reasonOf(end).sentence).toMatch(/stopped drawing power/);
  });

  it("fails a motor that begins to draw too much, and has it switched off at once", () => {
    const { end, after_s } = hold({ truth: { power: (t_s) => (t_s < 50.3 ? 960 : 1900) } });
    expect(reasonOf(end)).toMatchObject({ against: "unit", code: "MOTOR_DRAWS_TOO_MUCH" });
    expect(after_s).toBeLessThan(0.7);
  });

  it.each(["suction", "flow", "power", "voltage"] as const)(
    "never rests on a %s that stands still",
    (channel) => {
      const { end } = hold({ truth: { [channel]: () => TRUTH[channel](60) }, noise: { [channel]: 0 } });
      expect(reasonOf(end)).toMatchObject({ code: "GAUGE_FROZEN" });
    },
  );

  it("never rests on a coarse voltmeter that froze, and says so", () => {
    const coarse = randomStream(4, "coarse voltmeter");
    const voltage = (t_s: number) => (t_s > 51 || coarse.chance(0.8) ? 230 : 230.1);
    const noisy = { flow: 0.008, voltage: 0 };
    const { code, sentence } = reasonOf(hold({ truth: { voltage }, noise: noisy }).end);
    expect(code).toBe("GAUGE_FROZEN");
    expect(sentence).toContain("supply voltage");
  });

  it("never rests on a gauge that froze while the orifice moved", () => {
    const froze = TRUTH.suction(50.15);
    const { end } = hold({
      truth: {
        suction: (t_s) => (t_s < 50.15 ? TRUTH.suction(t_s) * (1 + 1e-3 * Math.sin(99 * t_s)) : froze),
      },
      noise: { suction: 0 },
    });
    expect(reasonOf(end)).toMatchObject({ code: "GAUGE_FROZEN" });
  });

  it("is void where the supply's mean is out of tolerance though no three readings in a row are", () => {
    let k = 0;
    const flicker = () => (k++ % 3 === 2 ? 234.9 : 236);
    expect(reasonOf(hold({ truth: { voltage: flicker }, noise: { voltage: 0 } }).end)).toMatchObject({
      code: "SUPPLY_OUT_OF_TOLERANCE",
    });
  });
});
