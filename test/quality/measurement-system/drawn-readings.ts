import type { RandomStream } from "../../../sim/random.ts";
import type { GaugeReading } from "../../../station/quality/measurement-system/crossed-study.ts";

export interface DrawnDesign {
  readonly parts: number;
  readonly appraisers: number;
  readonly trials: number;
  readonly mean?: number;
  /** Standard deviations, normal. */
  readonly part?: number;
  readonly appraiser?: number;
  readonly interaction?: number;
  readonly repeatability?: number;
}

/** A crossed study whose components of variance are known. */
export function drawnReadings(random: RandomStream, design: DrawnDesign): GaugeReading[] {
  const { mean = 0, part = 1, appraiser = 0.2, interaction = 0, repeatability = 0.2 } = design;
  const many = (count: number, spread: number) =>
    Array.from({ length: count }, () => spread * random.normal());
  const ofAppraiser = many(design.appraisers, appraiser);
  return many(design.parts, part).flatMap((ofPart, i) =>
    ofAppraiser.flatMap((ofWhom, j) => {
      const together = interaction * random.normal();
      return many(design.trials, repeatability).map((error, k) => ({
        part: String(i + 1),
        appraiser: String.fromCharCode(65 + j),
        trial: String(k + 1),
        value: mean + ofPart + ofWhom + together + error,
      }));
    }),
  );
}
