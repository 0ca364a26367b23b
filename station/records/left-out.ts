/*
 * Marks in a traveller's canonical text, where every name has its place. A quote in a text has a backslash before it, and no name that a
 * station may choose has a list or an object behind it: so none of these is found in a text. What is looked for from afar begins with
 * what is rare on the way there: from quote to quote it takes ten times as long.
 */
const AIRFLOW = '{"airflow":[';
const AIRFLOW_END = '],"ambient":';
const STEP = '{"air":{';
const POINTS = 'points":[';
const POINTS_END = '],"stated_at":';
const POINT = '{"efficiency":';
const ORIFICE = 'orifice":';
const POWER = ',"power_W":{';
const LAST_POWER = 'suction_power_W":{';
const BUDGET = '{"budget":[';
const AFTER_BUDGET =
  /,(?:"conformance":(?:null|[-+.\de]+),"expanded_uncertainty":(?:null|[-+.\de]+),|(?="conformance":))/y;
const CURVES = '],"curves":[';
const AFTER_CURVES = /,(?="draft":)/y;
const GAUGES = 'gauges":[';
const AFTER_GAUGES = /,(?="id":)/y;

/**
 * Cuts out of a traveller's text what is not in the index, five sixths of it: uncertainty budgets and what comes of them, curves, gauges,
 * and of airflow all but where it is stated at and what its points were. What is not where it belongs stays.
 * @example withoutLeftOut('{"characteristics":[{"budget":[{"component":"gauge"}],"conformance":1,"expanded_uncertainty":2,"name":"leak"}],"curves":[],...') // '{"characteristics":[{"name":"leak"}],...'
 */
export function withoutLeftOut(text: string): string {
  const cutting = new Cutting(text);
  if (text.startsWith(AIRFLOW)) cutAirflow(cutting, text);
  const curves = text.indexOf(CURVES, cutting.from);
  if (curves >= 0) {
    cutBudgets(cutting, text.slice(0, curves));
    cutting.cutList(curves + "],".length, curves + CURVES.length, AFTER_CURVES);
  }
  const gauges = text.indexOf(GAUGES, cutting.from);
  if (gauges >= 0) cutting.cutList(gauges - '"'.length, gauges + GAUGES.length, AFTER_GAUGES);
  return cutting.rest();
}

function cutAirflow(cutting: Cutting, text: string): void {
  const airflow = text.slice(0, Math.max(0, text.indexOf(AIRFLOW_END)));
  for (;;) {
    const step = airflow.indexOf(STEP, cutting.from);
    const points = step < 0 ? -1 : airflow.indexOf(POINTS, step);
    if (points < 0) return;
    cutting.cut(step + "{".length, points - '"'.length);
    cutPoints(cutting, airflow.slice(0, Math.max(0, airflow.indexOf(POINTS_END, points))));
  }
}

function cutPoints(cutting: Cutting, points: string): void {
  for (;;) {
    const point = points.indexOf(POINT, cutting.from);
    const orifice = point < 0 ? -1 : points.indexOf(ORIFICE, point);
    if (orifice < 0) return;
    cutting.cut(point + "{".length, orifice - '"'.length);
    const power = points.indexOf(POWER, orifice);
    const last = power < 0 ? -1 : points.indexOf(LAST_POWER, power);
    // It has no other object in it.
    const end = last < 0 ? -1 : points.indexOf("}", last);
    if (end < 0) return;
    cutting.cut(power, end + "}".length);
  }
}

function cutBudgets(cutting: Cutting, judged: string): void {
  for (
    let at = judged.indexOf(BUDGET, cutting.from);
    at >= 0;
    at = judged.indexOf(BUDGET, at + BUDGET.length)
  ) {
    cutting.cutList(at + "{".length, at + BUDGET.length, AFTER_BUDGET);
  }
}

class Cutting {
  readonly #text: string;
  #kept = "";
  /** Up to where the text is either kept or cut. */
  from = 0;

  constructor(text: string) {
    this.#text = text;
  }

  cut(at: number, end: number): void {
    this.#kept += this.#text.slice(this.from, at);
    this.from = end;
  }

  /**
   * Cuts out a list whose objects have no lists, so that its end is the first bracket; where that one was in a text, what comes after
   * it is none of this, and the list stays.
   * @param first where its first object begins
   * @param after sticky: what comes after the list, and is cut as well
   */
  cutList(at: number, first: number, after: RegExp): void {
    const end = this.#text.indexOf("]", first);
    after.lastIndex = end + 1;
    if (end >= 0 && after.test(this.#text)) this.cut(at, after.lastIndex);
  }

  rest(): string {
    return this.#kept + this.#text.slice(this.from);
  }
}
