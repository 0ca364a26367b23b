import { formatNumber, formatQuantity } from "../../limits/print-quantity.ts";
import type { ReferencePiece } from "../cycle/attempt.ts";
import type { ChannelUncertainty } from "../cycle/characteristic-result.ts";
import type { WatchCounts } from "./gauge-watch.ts";
import type { LeakNeed } from "./leak-needs.ts";
import type { ShownChannel } from "./shown-channel.ts";
import type { StepResponse } from "./watch-figures.ts";
import { faultsText } from "./watch-text.ts";

/** One thing that was looked at. */
export interface CheckLine {
  readonly what: string;
  readonly verdict: "ok" | "not good enough" | "not known";
  /** What was found against what is needed, and what to do where it is not enough. */
  readonly sentence: string;
}

/** What was found of one channel, SI. */
export interface ChannelFigures {
  readonly channel: ShownChannel;
  readonly noise: number | null;
  readonly resolution: number | null;
  readonly hasStoodStill: boolean;
  /** One standard deviation, as the station file states it; null where there is no station file. */
  readonly stated: ChannelUncertainty | null;
  readonly mean: number;
}

const PER_ROOT_12 = 1 / Math.sqrt(12);

/** Whether everything that was sent came, as far as that can be seen. */
export function cableLine(counts: WatchCounts, seconds: number): CheckLine {
  const faults = faultsText(counts);
  const isGood = faults === "none" && counts.missing === 0 && counts.lines > 0;
  return {
    what: "dropouts",
    verdict: isGood ? "ok" : "not good enough",
    sentence: isGood
      ? `${counts.lines} lines in ${formatNumber(seconds, { significant: 3 })} s, none lost or refused; longest gap ${milliseconds(counts.longestGap_s)}.`
      : `${counts.lines} lines in ${formatNumber(seconds, { significant: 3 })} s; faults: ${faults}; ${counts.missing} missing. Check the cable, its screen and earth, and the line settings.`,
  };
}

/** Whether the channel lives, and is no worse than the station file says. */
export function channelLines({
  channel,
  noise,
  resolution,
  hasStoodStill,
  stated,
  mean,
}: ChannelFigures): CheckLine[] {
  const text = (value_SI: number) =>
    `${formatNumber(channel.shownDifference(value_SI), { significant: 2 })} ${channel.unit}`;
  if (noise === null) {
    return [
      {
        what: channel.name,
        verdict: "not known",
        sentence: "Too few good readings; see what gauge watch shows.",
      },
    ];
  }
  if (hasStoodStill || resolution === null) {
    return [
      {
        what: channel.name,
        verdict: "not good enough",
        sentence:
          "It stood still: it cannot be told from a gauge that is frozen, and the station voids what it measures with such a one. Set its averaging lower or its digits higher.",
      },
    ];
  }
  const own = Math.max(noise, resolution * PER_ROOT_12);
  const found = `noise ${text(noise)}, last digit ${text(resolution)}`;
  if (!stated) return [{ what: channel.name, verdict: "ok", sentence: `${found}.` }];
  const allowed = stated.absolute + stated.relative * Math.abs(mean);
  return [
    own <= allowed
      ? {
          what: channel.name,
          verdict: "ok",
          sentence: `${found}; the station file allows it ${text(allowed)}.`,
        }
      : {
          what: channel.name,
          verdict: "not good enough",
          sentence: `${found}, but the station file states an uncertainty of ${text(allowed)} only, which a single reading does not keep: state what the gauge really has, or use a better one.`,
        },
  ];
}

/** What one leak limit needs, against what the gauge gives. */
export function leakLines(need: LeakNeed, unit: string, resolution_Pa: number | null): CheckLine[] {
  const rate = (leak_m3_s: number) =>
    formatQuantity(leak_m3_s, "leakRate", unit, { significant: 2, reference: HOUSE });
  const what = `${need.model} ${need.characteristic}`;
  const time = `${formatNumber(need.measureLongest_s)} s`;
  const early = need.earlyReadings;
  const isFast = need.readings >= need.readingsLeast && (early === null || early >= need.readingsLeast);
  const lines: CheckLine[] = [
    {
      what: `${what}: noise`,
      verdict: need.noise_m3_s <= need.noiseMost_m3_s ? "ok" : "not good enough",
      sentence:
        `leaves ${rate(need.noise_m3_s)} in the leak rate after ${time}, a tenth of the limit is ${rate(need.noiseMost_m3_s)} (ASTM E2930)` +
        (need.noise_m3_s <= need.noiseMost_m3_s ? "." : ": measure longer, or use a gauge with less noise."),
    },
    {
      what: `${what}: rate`,
      verdict: isFast ? "ok" : "not good enough",
      sentence:
        `${need.readings} readings in ${time}${early === null ? "" : `, ${early} up to the first early look`}; ${need.readingsLeast} are needed` +
        (isFast ? "." : ": set the gauge to send more often, or poll it faster."),
    },
  ];
  if (resolution_Pa === null) return lines;
  const isFine = resolution_Pa <= need.resolutionMost_Pa;
  return [
    ...lines,
    {
      what: `${what}: resolution`,
      verdict: isFine ? "ok" : "not good enough",
      sentence:
        `a leak at the limit moves the pressure by ${pascals(need.change_Pa)} in ${time}, the last digit is worth ${pascals(resolution_Pa)}` +
        (isFine
          ? "."
          : `, and a tenth of that is needed: set the gauge to more digits or a smaller range, or measure longer.`),
    },
  ];
}

/** Coverage factor of about 95 %: JCGM 100:2008, 6.3. More than the tolerance, and noise alone fails a sound piece too often. */
const COVERAGE = 2;

/** Whether the strictest reference piece of the model can be read at all within its tolerance; none without pieces. */
export function pieceLines(need: LeakNeed, pieces: readonly ReferencePiece[], unit: string): CheckLine[] {
  const [strictest] = pieces
    .filter(({ kind, model }) => kind !== "orifice" && model === need.model)
    .sort((a, b) => a.tolerance_m3_s - b.tolerance_m3_s);
  if (!strictest) return [];
  const rate = (leak_m3_s: number) =>
    formatQuantity(leak_m3_s, "leakRate", unit, { significant: 2, reference: HOUSE });
  const noise_m3_s = COVERAGE * need.noise_m3_s;
  const isEnough = noise_m3_s <= strictest.tolerance_m3_s;
  return [
    {
      what: `${need.model} ${need.characteristic}: reference pieces`,
      verdict: isEnough ? "ok" : "not good enough",
      sentence:
        `${strictest.serial} has to read within ${rate(strictest.tolerance_m3_s)} of its certificate, the noise alone leaves +- ${rate(noise_m3_s)} (k = 2)` +
        (isEnough
          ? "."
          : ": by noise alone it would fail again and again, and production stand still. Measure longer, use a gauge with less noise, or give the piece a wider tolerance."),
    },
  ];
}

/** Whether the gauge follows fast enough that its lag is over when measuring begins. */
export function responseLine(step: StepResponse | null, needs: readonly LeakNeed[]): CheckLine {
  if (!step) {
    return {
      what: "response",
      verdict: "not known",
      sentence:
        "No step was seen that stands out of the noise: pinch or open the hose at once, within the time.",
    };
  }
  const found = `63 % of a step after ${milliseconds(step.t63_s)}, 90 % after ${milliseconds(step.t90_s)} (your hand included)`;
  const [strictest] = [...needs].sort((a, b) => a.lagMost_s - b.lagMost_s);
  if (!strictest) return { what: "response", verdict: "ok", sentence: `${found}.` };
  const isFast = step.t63_s <= strictest.lagMost_s;
  return {
    what: "response",
    verdict: isFast ? "ok" : "not good enough",
    sentence:
      `${found}; ${strictest.model} leaves it ${milliseconds(strictest.lagMost_s)}` +
      (isFast
        ? "."
        : ": make the step quicker and try again, set the gauge's averaging lower, or settle longer."),
  };
}

const HOUSE = { temperature_K: 293.15, pressure_Pa: 101_325 };

function pascals(pressure_Pa: number): string {
  return `${formatNumber(pressure_Pa, { significant: 2 })} Pa`;
}

function milliseconds(time_s: number): string {
  return `${formatNumber(time_s * 1000, { significant: 3 })} ms`;
}
