import type { StoredForm } from "../records/stored-values.ts";

/** What the first inspection of every unit with one form came to. */
export interface FormFindings {
  /** In the order in which units go through them; one that was never got to was not passed. */
  readonly steps: readonly { readonly step: string; readonly reached: boolean; readonly passed: boolean }[];
  /** What it failed by, in the words of `failureNames`. */
  readonly causes: readonly string[];
  /** What was looked at: characteristics with a value that can be judged, and findings that left none. */
  readonly opportunities: number;
}

/** A finding of which a leak characteristic tells as well. */
const GROSS: readonly string[] = ["GROSS_LEAK", "UNIT_NOT_SEALED"];

/**
 * A traveller lists every characteristic, those of steps that were never got to as void. A step is passed by a value of each of
 * its characteristics that conforms. A unit that failed by a finding without a value, as by a motor that does not start, failed
 * in the first step that lacks values.
 * @example findingsOf(formOfAUnitThatLeaks).causes // ["leak rate"]
 */
export function findingsOf(form: StoredForm): FormFindings {
  const known = WORKED_OUT.get(form) ?? workedOut(form);
  WORKED_OUT.set(form, known);
  return known;
}

/** Many tests have one form. */
const WORKED_OUT = new WeakMap<StoredForm, FormFindings>();

function workedOut(form: StoredForm): FormFindings {
  const { characteristics, codes, verdict } = form;
  const isFailed = verdict === "fail";
  const failing = characteristics.filter((it) => it.verdict === "fail");
  const isToldByRate = failing.some(({ measurand }) => measurand === "leak_rate");
  const found = isFailed
    ? codes.filter((code) => code !== "OUT_OF_LIMITS" && !(isToldByRate && GROSS.includes(code)))
    : [];
  let unplaced = found.length;
  const steps = [...new Set(characteristics.map((it) => it.step))].map((step) => {
    const verdicts = characteristics.filter((it) => it.step === step).map((it) => it.verdict);
    const reached = unplaced > 0 || verdicts.some((it) => it !== "void");
    const passed = verdicts.every((it) => it === "pass");
    if (!passed && !verdicts.includes("fail")) unplaced = 0;
    return { step, reached, passed };
  });
  return {
    steps,
    causes: [...found, ...failing.map(({ name }) => name)].map(wordsOf),
    opportunities: characteristics.filter((it) => it.verdict !== "void").length + found.length,
  };
}

function wordsOf(text: string): string {
  return text.toLowerCase().replaceAll("_", " ");
}
