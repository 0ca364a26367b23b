import { describe, expect, it } from "vitest";
import type { GaugeProfile } from "../../drivers/profile.ts";
import { loadProfile } from "../../drivers/profile-file.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { cableLine, channelLines, leakLines, responseLine } from "../../station/bring-up/check-lines.ts";
import { restingNoise } from "../../station/bring-up/gauge-figures.ts";
import { GaugeWatch } from "../../station/bring-up/gauge-watch.ts";
import { shownChannels } from "../../station/bring-up/shown-channel.ts";
import {
  noiseOf,
  paceOf,
  resolutionOf,
  seriesOf,
  stepResponseOf,
} from "../../station/bring-up/watch-figures.ts";
import { openGauge } from "../../station/instruments.ts";

const PROFILE = loadProfile("stream-pressure") as GaugeProfile;

/** The demo's leak gauge, watched for a while, with something going wrong at some time. */
async function watched(
  seconds: number,
  mishaps: readonly (readonly [at_s: number, badDay: string | null])[] = [],
) {
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed: 9 });
  const source = plant.instruments.get("leak_gauge");
  const ending = new AbortController();
  const gauge = await openGauge(
    { name: "leak_gauge", profile: PROFILE.name, transport: { kind: "memory" }, identity: null },
    { profiles: new Map([[PROFILE.name, PROFILE]]), clock, attach: () => (far) => void source?.attach(far) },
  );
  const watch = new GaugeWatch({ gauge, clock, signal: ending.signal, keep_s: seconds });
  for (const [at_s, badDay] of mishaps) clock.setTimeout(() => source?.misbehave(badDay), at_s * 1000);
  clock.setTimeout(() => ending.abort(), seconds * 1000);
  await clock.runUntil(watch.run());
  return watch;
}

describe("a gauge that is watched", () => {
  it("shows its rate, its noise and its last digit", async () => {
    const watch = await watched(20);
    const series = seriesOf(watch.lines(), "leak_pressure");
    expect(paceOf(watch.lines())?.rate_Hz).toBeCloseTo(50, 1);
    // As it is made: 0.6 Pa white and 0.25 Pa wandering, in steps of 0.05 Pa.
    expect(noiseOf(series)).toBeGreaterThan(0.55);
    expect(noiseOf(series)).toBeLessThan(0.75);
    expect(restingNoise(series)?.white_Pa).toBeCloseTo(0.6, 1);
    expect(resolutionOf(series)).toBeCloseTo(0.05, 6);
    expect(watch.counts).toMatchObject({ missing: 0, reconnects: 0 });
    expect(cableLine(watch.counts, 20).verdict).toBe("ok");
  });

  it("has its lost lines counted, and is watched on over a fresh connection", async () => {
    const watch = await watched(20, [
      [5, "skips"],
      [9, null],
    ]);
    const { counts } = watch;
    // One line in fifty is left out for four seconds, less what the reconnects did not see.
    expect(counts.missing).toBeGreaterThanOrEqual(2);
    expect(counts.faults.get("OUT_OF_SEQUENCE")).toBe(counts.missing);
    expect(counts.reconnects).toBe(counts.missing);
    expect(watch.fault).toBeNull();
    expect(cableLine(counts, 20)).toMatchObject({
      verdict: "not good enough",
      sentence: expect.stringContaining("out of sequence"),
    });
  });

  it.each([
    ["unplugged", "PORT_LOST"],
    ["silent", "REPLY_TIMEOUT"],
    ["garbage", "REPLY_MALFORMED"],
  ])("that was %s for a while is named so and heard again", async (badDay, code) => {
    const watch = await watched(15, [
      [4, badDay],
      [8, null],
    ]);
    expect([...watch.counts.faults.keys()]).toContain(code);
    expect(watch.fault).toBeNull();
    expect(watch.lines().at(-1)?.t_s).toBeGreaterThan(14.9);
  });

  it("that stands still is not good enough, however little noise it has", async () => {
    const watch = await watched(20, [[0.5, "stuck"]]);
    const series = seriesOf(watch.lines().slice(100), "leak_pressure");
    const [channel] = shownChannels(PROFILE);
    if (!channel) throw new Error("the profile has no channel");
    const lines = channelLines({
      channel,
      noise: noiseOf(series),
      resolution: resolutionOf(series),
      hasStoodStill: true,
      stated: { absolute: 2, relative: 0.001 },
      mean: 0,
    });
    expect(lines).toEqual([expect.objectContaining({ verdict: "not good enough" })]);
    expect(resolutionOf(series)).toBeNull();
  });
});

describe("the response to a step", () => {
  const lagging = (tau_s: number) => {
    const t_s = Array.from({ length: 500 }, (_, i) => i * 0.02);
    return { t_s, value: t_s.map((t) => (t < 4 ? 0 : -8000 * (1 - Math.exp(-(t - 4) / tau_s)))) };
  };

  it("is the time constant of a gauge that lags", () => {
    const response = stepResponseOf(lagging(0.3), 0.6);
    expect(response?.t63_s).toBeCloseTo(0.3, 1);
    expect(response?.t90_s).toBeCloseTo(0.3 * Math.log(10), 1);
  });

  it("is not seen in noise", () => {
    const { t_s } = lagging(0.3);
    expect(stepResponseOf({ t_s, value: t_s.map((_, i) => (i % 2 === 0 ? 0.5 : -0.5)) }, 0.5)).toBeNull();
    expect(responseLine(null, []).verdict).toBe("not known");
  });
});

describe("what a leak limit needs", () => {
  const need = {
    model: "POD-4",
    characteristic: "leak rate",
    limit_m3_s: 25e-6 / 60,
    measureLongest_s: 10,
    noise_m3_s: 1e-6 / 60,
    noiseMost_m3_s: 2.5e-6 / 60,
    change_Pa: 120,
    resolutionMost_Pa: 12,
    readings: 500,
    readingsLeast: 20,
    earlyReadings: 100,
    lagMost_s: 0.4,
  };
  const verdicts = (changed: Partial<typeof need>, resolution_Pa = 0.05) =>
    leakLines({ ...need, ...changed }, "mL/min", resolution_Pa).map(({ verdict }) => verdict);

  it("is met by a quiet, quick and fine gauge", () => {
    expect(verdicts({})).toEqual(["ok", "ok", "ok"]);
  });

  it("is missed by noise, by few readings, and by a coarse last digit, each by itself", () => {
    expect(verdicts({ noise_m3_s: 2.6e-6 / 60 })).toEqual(["not good enough", "ok", "ok"]);
    expect(verdicts({ earlyReadings: 19 })).toEqual(["ok", "not good enough", "ok"]);
    expect(verdicts({}, 12.1)).toEqual(["ok", "ok", "not good enough"]);
  });
});
