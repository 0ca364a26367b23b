/*
 * Marks in a traveller's canonical text, where every name has its place. A quote in a text has a backslash before it, and no name that a
 * station may choose has a list or an object behind it: so none of these is found in a text.
 */
const AIRFLOW = '{"airflow":[';
const AIRFLOW_END = ',"ambient":';
const POINTS = '"points":[';
const POINTS_END = '],"stated_at":';
const CURVES = ',"curves":[';
const LIST_END = "],";

/**
 * Cuts out of a traveller's text what is not in the index, four fifths of it: uncertainty budgets, curves, gauges, and of airflow all
 * but where it is stated at and what its points were. What is not where it belongs stays.
 * @example withoutLeftOut('{"characteristics":[{"budget":[{"component":"gauge"}],"name":"leak"}],...') // '{"characteristics":[{"name":"leak"}],...'
 */
export function withoutLeftOut(text: string): string {
  const cutting = new Cutting(text);
  if (text.startsWith(AIRFLOW)) cutAirflow(cutting, text);
  const curves = text.indexOf(CURVES, cutting.from);
  const judged = curves < 0 ? text : text.slice(0, curves);
  while (cutting.cut(judged, '"budget":[', LIST_END, LIST_END.length));
  for (const list of ['"curves":[', '"gauges":[']) cutting.cut(text, list, LIST_END, LIST_END.length);
  return cutting.rest();
}

function cutAirflow(cutting: Cutting, text: string): void {
  const airflow = text.slice(0, Math.max(0, text.indexOf(AIRFLOW_END)));
  while (cutting.cut(airflow, '"air":{', POINTS, 0)) {
    const points = airflow.slice(0, Math.max(0, airflow.indexOf(POINTS_END, cutting.from)));
    while (cutting.cut(points, '"efficiency":', '"orifice":', 0)) {
      // Up to the last object, then that one: neither has another in it.
      if (cutting.cut(points, ',"power_W":{', '"suction_power_W":{', 0))
        cutting.cut(points, '"suction_power_W":{', "}", 1);
    }
  }
}

/**
 * A list's objects have no lists, so that it ends with the first bracket but one in a text; and where that one was in a text, what is
 * left is no JSON, since the text's own end is then the beginning of a text with a bare word behind it.
 */
class Cutting {
  readonly #text: string;
  #kept = "";
  /** Up to where the text is either kept or cut. */
  from = 0;

  constructor(text: string) {
    this.#text = text;
  }

  /**
   * @param within the text, or its beginning, to look in
   * @param past how many characters of `to` are cut as well
   * @returns whether something was cut
   */
  cut(within: string, mark: string, to: string, past: number): boolean {
    const at = within.indexOf(mark, this.from);
    if (at < 0) return false;
    const end = within.indexOf(to, at);
    if (end < 0) return false;
    this.#kept += this.#text.slice(this.from, at);
    this.from = end + past;
    return true;
  }

  rest(): string {
    return this.#kept + this.#text.slice(this.from);
  }
}
