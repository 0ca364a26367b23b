import type { LeakStep } from "../../limits/model.ts";
import type { StationKnowledge } from "./characteristic-result.ts";
import type { Reason } from "./reason.ts";

/** Leak and source gauge on the same air: a body that the source has filled until hardly anything flows. Medians. */
export interface ComparedGauges {
  readonly leak_Pa: number;
  readonly source_Pa: number;
  /** How fast the body's pressure still moved. */
  readonly rate_Pa_s: number;
}

/** Standard uncertainty of a gauge at a reading, by its certificate, SI. */
export type GaugeUncertainty = (channel: string, value: number) => number;

/** A channel nobody is certified for is known not at all: NaN. */
export function gaugeUncertaintyOf({ channels }: Pick<StationKnowledge, "channels">): GaugeUncertainty {
  return (channel, value) => {
    const certified = channels.get(channel);
    return certified ? Math.hypot(certified.absolute, certified.relative * value) : Number.NaN;
  };
}

/** Two sound gauges differ by more than three standard uncertainties of the difference once in 370 pairs. */
const COVERAGE = 3;

/**
 * Holds the leak gauge against the source gauge. What still flows makes the pressure fall on its way through the restrictor,
 * by the square of the flow: as a part of the source, no more than the square of the rate over the slowest fill's.
 * @returns null when they agree within their certificates
 * @example // both certified to 0.2 %, 5 kPa: 5150 and 5140 Pa -> null; 5560 and 5150 Pa -> GAUGES_DISAGREE
 * @see JCGM 100:2008, 5.1.2 (uncertainty of a difference) and 6.3 (coverage factor)
 */
export function comparisonFinding(
  { leak_Pa, source_Pa, rate_Pa_s }: ComparedGauges,
  { testPressure_Pa, fillLongest_s }: Pick<LeakStep, "testPressure_Pa" | "fillLongest_s">,
  uncertaintyOf: GaugeUncertainty,
): Reason | null {
  const slowest_Pa_s = Math.abs(testPressure_Pa) / fillLongest_s;
  const onTheWay_Pa = Math.abs(source_Pa) * (rate_Pa_s / slowest_Pa_s) ** 2;
  const allowed_Pa =
    COVERAGE *
      Math.hypot(uncertaintyOf("leak_pressure", leak_Pa), uncertaintyOf("source_pressure", source_Pa)) +
    onTheWay_Pa;
  const apart_Pa = Math.abs(leak_Pa - source_Pa);
  // Negated, so that a number that is none blocks too.
  if (apart_Pa <= allowed_Pa) return null;
  return {
    code: "GAUGES_DISAGREE",
    sentence: `Leak gauge and source gauge disagree: ${kPa(leak_Pa)} and ${kPa(source_Pa)} on the same air, by their certificates they may differ by ${allowed_Pa.toFixed(0)} Pa. Have both compared with a third one, and the one that is wrong calibrated or exchanged, then acknowledge.`,
  };
}

function kPa(pressure_Pa: number): string {
  return `${(pressure_Pa / 1000).toFixed(2)} kPa`;
}
