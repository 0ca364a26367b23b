import { Command } from "@commander-js/extra-typings";
import type { Clock } from "../../drivers/ports.ts";
import type { ModelLimits } from "../../limits/model.ts";
import type { CheckLine } from "../bring-up/check-lines.ts";
import type { GaugeWatch } from "../bring-up/gauge-watch.ts";
import type { LeakNeed } from "../bring-up/leak-needs.ts";
import type { OneGauge } from "../bring-up/one-gauge.ts";

/** `drumtight gauge check`: whether a gauge is good enough for what is tested with it. */
export function checkCommand() {
  return new Command("check")
    .description("check a gauge's noise, resolution, rate and response against what the limits need")
    .argument("<gauge>", "its name in the station file")
    .requiredOption("--station <file>", "station file that names it")
    .option("--model <model>", "this model's limits only; all of the station's otherwise")
    .option("--seconds <number>", "how long it is watched at rest", "20")
    .option("--step", "then also watch a step that you make: pinch, squeeze or open its hose at once")
    .option("--json", "one JSON object per line looked at")
    .addHelpText(
      "after",
      `
Let the gauge be at rest: fixture vented, nothing moving. It reads only; valves and motor are left alone, and must be
isolated by the local procedure if you reach into the fixture for a step. The station must not run.

Exit code 0: good enough. 1: something is not, or could not be told. 2: it could not be watched.

Examples:
  drumtight gauge check leak_gauge --station line-2.yaml
  drumtight gauge check leak_gauge --station line-2.yaml --model TUB-12 --step`,
    )
    .action(async (name, options) => {
      process.exitCode = await checkGauge(name, options);
    });
}

interface CheckArguments {
  readonly station: string;
  readonly model?: string;
  readonly seconds: string;
  readonly step?: true;
  readonly json?: true;
}

const STEP_s = 10;

async function checkGauge(name: string, options: CheckArguments): Promise<0 | 1> {
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const { openOneGauge } = await import("../bring-up/one-gauge.ts");
  const { secondsFrom } = await import("../bring-up/seconds-option.ts");
  const { stopOnSignal } = await import("../stop-on-signal.ts");
  const { UsageError } = await import("../explain.ts");
  const seconds = secondsFrom("--seconds", options.seconds);
  const clock = new RealClock();
  const one = await openOneGauge(name, { station: options.station }, clock);
  const { models, doubts } = await modelsFor(one, options.model);
  const stopping = stopOnSignal(() => complain("Stopping."));
  complain(`Watching ${name} at ${one.where} for ${seconds} s; let it be at rest ...`);
  const { lines, needs, noise } = await atRest(one, models, { clock, seconds, stopping });
  if (options.step && !stopping.aborted) {
    complain(`Now make a step at once: pinch, squeeze or open its hose. ${STEP_s} s ...`);
    lines.push(await ofStep(one, needs, noise, { clock, stopping }));
  }
  if (stopping.aborted) throw new UsageError("Stopped; nothing can be said yet.");
  for (const line of lines) {
    print(options.json ? JSON.stringify(line) : `${line.verdict.padEnd(16)} ${line.what}: ${line.sentence}`);
  }
  for (const doubt of new Set(doubts)) complain(doubt);
  return lines.every(({ verdict }) => verdict === "ok") ? 0 : 1;
}

interface Watching {
  readonly clock: Clock;
  readonly stopping: AbortSignal;
}

async function watched(one: OneGauge, seconds: number, { clock, stopping }: Watching): Promise<GaugeWatch> {
  const { GaugeWatch } = await import("../bring-up/gauge-watch.ts");
  const ended = AbortSignal.any([stopping, AbortSignal.timeout(seconds * 1000)]);
  const watch = new GaugeWatch({ gauge: one.gauge, clock, signal: ended, keep_s: seconds + 1 });
  await watch.run();
  return watch;
}

async function atRest(
  one: OneGauge,
  models: readonly Needing[],
  { seconds, ...watching }: Watching & { readonly seconds: number },
): Promise<{ lines: CheckLine[]; needs: LeakNeed[]; noise: number }> {
  const { cableLine, channelLines, leakLines, pieceLines } = await import("../bring-up/check-lines.ts");
  const { restingNoise } = await import("../bring-up/gauge-figures.ts");
  const { leakNeeds } = await import("../bring-up/leak-needs.ts");
  const { shownChannels } = await import("../bring-up/shown-channel.ts");
  const { noiseOf, paceOf, resolutionOf, seriesOf } = await import("../bring-up/watch-figures.ts");
  const { hasStoodStill } = await import("../measure/fit/standstill.ts");
  const { isStationChannel } = await import("../station-channels.ts");
  const { mean } = await import("../measure/fit/mean.ts");
  const watch = await watched(one, seconds, watching);
  const kept = watch.lines();
  const lines: CheckLine[] = [cableLine(watch.counts, seconds)];
  for (const channel of shownChannels(one.profile)) {
    const series = seriesOf(kept, channel.name);
    const stated = isStationChannel(channel.name)
      ? (one.station?.settings.channels.get(channel.name) ?? null)
      : null;
    lines.push(
      ...channelLines({
        channel,
        noise: noiseOf(series),
        resolution: resolutionOf(series),
        hasStoodStill: hasStoodStill(series.value),
        stated,
        mean: series.value.length > 0 ? mean(series.value) : 0,
      }),
    );
  }
  const leak = seriesOf(kept, "leak_pressure");
  const noise = restingNoise(leak);
  const pace = paceOf(kept);
  if (!noise || !pace) return { lines, needs: [], noise: noiseOf(leak) ?? 0 };
  const resolution_Pa = resolutionOf(leak);
  const needs = models.flatMap(({ limits, station }) =>
    leakNeeds(limits, station, { noise, rate_Hz: pace.rate_Hz, resolution_Pa }),
  );
  const pieces = one.station?.file.referenceCheck?.pieces ?? [];
  lines.push(
    ...needs.flatMap((need) => {
      const unit = unitOf(models, need);
      return [...leakLines(need, unit, resolution_Pa), ...pieceLines(need, pieces, unit)];
    }),
  );
  return { lines, needs, noise: Math.hypot(noise.white_Pa, noise.wander_Pa) };
}

async function ofStep(
  one: OneGauge,
  needs: readonly LeakNeed[],
  noise: number,
  watching: Watching,
): Promise<CheckLine> {
  const { responseLine } = await import("../bring-up/check-lines.ts");
  const { seriesOf, stepResponseOf } = await import("../bring-up/watch-figures.ts");
  const watch = await watched(one, STEP_s, watching);
  const channel = one.gauge.channels[0] ?? "";
  return responseLine(stepResponseOf(seriesOf(watch.lines(), channel), noise), needs);
}

interface Needing {
  readonly limits: ModelLimits;
  readonly station: Parameters<typeof import("../bring-up/leak-needs.ts").leakNeeds>[1];
}

/** @throws UsageError where the station has no such model; FileProblems for a limit file that is wrong */
async function modelsFor(
  { station }: OneGauge,
  model: string | undefined,
): Promise<{ readonly models: Needing[]; readonly doubts: readonly string[] }> {
  if (!station?.settings.channels.has("leak_pressure")) return { models: [], doubts: [] };
  const { loadLimitFolder } = await import("../../limits/limit-file.ts");
  const { calibrationsInForce } = await import("../calibrations-in-force.ts");
  const { limitsOn } = await import("../models-in-force.ts");
  const { calendarDate } = await import("../calendar-date.ts");
  const { NOT_CALIBRATED } = await import("../cycle/attempt.ts");
  const { UsageError } = await import("../explain.ts");
  const { file, path } = station;
  const all = limitsOn(loadLimitFolder(file.limitsFolder), file.approvers, calendarDate(Date.now()));
  const chosen = model === undefined ? all : all.filter((limits) => limits.model === model);
  if (chosen.length === 0) {
    const known = all.map((limits) => limits.model).join(", ") || "none";
    throw new UsageError(`--model: there is no limit file of ${JSON.stringify(model)}; there are: ${known}.`);
  }
  const calibrations = calibrationsInForce(path, file, chosen, Date.now());
  // Such as one that was learned with another gauge.
  const doubts = [...calibrations.values()].flatMap(({ problems }) =>
    problems.map(({ sentence }) => sentence),
  );
  const models = chosen.map((limits) => ({
    limits,
    station: {
      knowledge: file.knowledge,
      calibration: calibrations.get(limits.model) ?? NOT_CALIBRATED,
    },
  }));
  return { models, doubts };
}

function unitOf(models: readonly Needing[], { model, characteristic }: LeakNeed): string {
  const limits = models.find((candidate) => candidate.limits.model === model)?.limits;
  return limits?.characteristics.find(({ name }) => name === characteristic)?.unit ?? "mL/min";
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}

function complain(text: string): void {
  process.stderr.write(`${text}\n`);
}
