import { readFileSync } from "node:fs";
import { type FileProblem, problemIn } from "../limits/checked-yaml.ts";
import type { ModelLimits } from "../limits/model.ts";
import { nearest } from "../limits/nearest.ts";

/** An orifice that a point of a limit file asks for. */
export interface AskedOrifice {
  readonly orifice: string;
  /** Place in the limit file, of the first point that asks for it. */
  readonly path: readonly (string | number)[];
}

/**
 * Orifices that a limit file asks for and a station does not have, each once.
 * @param known names of the station's orifices
 */
export function missingOrifices(limits: ModelLimits, known: readonly string[]): AskedOrifice[] {
  const missing = new Map<string, AskedOrifice>();
  for (const [i, step] of limits.steps.entries()) {
    for (const [j, { orifice }] of step.kind === "airflow" ? step.points.entries() : []) {
      if (known.includes(orifice) || missing.has(orifice)) continue;
      missing.set(orifice, { orifice, path: ["steps", i, "points", j, "orifice"] });
    }
  }
  return [...missing.values()];
}

/** The same as mistakes in the limit file, which is read again for their places. */
export function orificeProblems(limits: ModelLimits, known: readonly string[]): FileProblem[] {
  const { path: file } = limits.source;
  const text = readFileSync(file, "utf8");
  const expected =
    known.length === 0
      ? "an orifice of the station file, which has none"
      : `one of the station file's orifices ${known.join(", ")}`;
  return missingOrifices(limits, known).map(({ orifice, path }) => {
    const meant = nearest(orifice, known);
    return problemIn(file, text, path, {
      expected,
      ...(meant === undefined ? {} : { hint: `did you mean ${meant}?` }),
    });
  });
}
