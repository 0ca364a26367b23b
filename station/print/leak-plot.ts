import { formatNumber } from "../../limits/print-quantity.ts";
import type { Traveller } from "../records/traveller.ts";
import { storedLeakCurve } from "../stored-leak-curve.ts";

/** A leak step's pressure from the shut-off on, as it is drawn. */
export interface LeakPlot {
  readonly step: string;
  /** Seconds since the body was shut off, pascals; thinned by means. */
  readonly curve: readonly PlotPoint[];
  /** What the same body would have read, had it leaked just at its limit; empty where that can't be told. */
  readonly atLimit: readonly PlotPoint[];
  /** "60 mL/min"; null without such a line. */
  readonly limit: string | null;
  /** What was measured from and to; null where it was broken off. */
  readonly measured: { readonly from_s: number; readonly to_s: number } | null;
}

export interface PlotPoint {
  readonly t_s: number;
  readonly pressure_Pa: number;
}

/** More could not be told apart on paper. */
const MOST_POINTS = 160;

/** @returns one for each leak step with a recorded curve; @throws RecordError CORRUPT for a curve that can't be read */
export function leakPlots(traveller: Traveller): LeakPlot[] {
  const steps = new Set(
    traveller.curves.filter(({ channel }) => channel === "leak_pressure").map(({ step }) => step),
  );
  return [...steps].flatMap((step) => {
    const stored = storedLeakCurve(traveller, { name: step });
    if (stored === null || stored === "gross leak") return [];
    const samples = stored.samples.map(({ t_us, pressure_mPa }) => ({
      t_s: (t_us - stored.shut_us) / 1e6,
      pressure_Pa: pressure_mPa / 1e3,
    }));
    const curve = thinned(samples);
    if (curve.length < 2) return [];
    return [{ step, curve, ...limitOf(traveller, step, curve) }];
  });
}

/**
 * The limit as a curve. How the leak rate follows from the slope of pressure is in the measurement's own uncertainty budget: its
 * sensitivity to a slope, in the characteristic's unit per Pa/s. So the slope at the limit differs from the body's own by
 * (limit - value) / sensitivity, and the body's settling stays in the curve.
 */
function limitOf(
  { characteristics }: Traveller,
  step: string,
  curve: readonly PlotPoint[],
): Pick<LeakPlot, "atLimit" | "limit" | "measured"> {
  const leak = characteristics.find((it) => it.step === step && it.measurand === "leak_rate");
  const measured = leak?.how ? { from_s: leak.how.from_s, to_s: leak.how.to_s } : null;
  const sensitivity = leak?.budget?.find(({ unit }) => unit === "Pa/s")?.sensitivity;
  if (!leak || !measured || leak.value === null || leak.upper === undefined || !sensitivity) {
    return { atLimit: [], limit: null, measured };
  }
  // The budget counts what is lost: a suction that is lost rises.
  const towardsAmbient = (curve[0]?.pressure_Pa ?? 0) < 0 ? 1 : -1;
  const steeper_Pa_s = (towardsAmbient * (leak.upper - leak.value)) / sensitivity;
  const atLimit = curve
    .filter(({ t_s }) => t_s >= measured.from_s)
    .map(({ t_s, pressure_Pa }) => ({
      t_s,
      pressure_Pa: pressure_Pa + steeper_Pa_s * (t_s - measured.from_s),
    }));
  return { atLimit, limit: `${formatNumber(leak.upper, { significant: 6 })} ${leak.unit}`, measured };
}

function thinned(samples: readonly PlotPoint[]): PlotPoint[] {
  const together = Math.ceil(samples.length / MOST_POINTS);
  return Array.from({ length: Math.ceil(samples.length / together) }, (_, i) => {
    const some = samples.slice(i * together, (i + 1) * together);
    const mean = (of: (sample: PlotPoint) => number) =>
      some.reduce((sum, one) => sum + of(one), 0) / some.length;
    return { t_s: mean(({ t_s }) => t_s), pressure_Pa: mean(({ pressure_Pa }) => pressure_Pa) };
  });
}
