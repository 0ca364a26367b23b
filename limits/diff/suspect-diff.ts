import type { LimitFileText } from "../limit-file-schema.ts";
import type { LimitChange } from "./limit-diff.ts";

type Suspect = NonNullable<LimitFileText["suspects"]>[number];
type Condition = Suspect["when"][number];

/** A rule of one file beside the one of the other that it became. */
interface Pair {
  readonly a: number;
  readonly b: number;
}

/**
 * What two files' rules about suspects say differently. Causes repeat, so that rules with nothing changed are paired first, then
 * those with one cause, in order.
 */
export function suspectChanges(a: readonly Suspect[], b: readonly Suspect[]): LimitChange[] {
  const pairs = paired(a, b);
  const ofA = new Map(pairs.map((pair) => [pair.a, pair]));
  const ofB = new Map(pairs.map((pair) => [pair.b, pair]));
  return [
    ...pairs.flatMap((pair) => inside(a[pair.a], b[pair.b], pair.b)),
    ...a.flatMap((rule, i) => (ofA.has(i) ? [] : [whole("removed", rule, i)])),
    ...b.flatMap((rule, i) => (ofB.has(i) ? [] : [whole("added", rule, i)])),
    ...orderChange(b, pairs),
  ];
}

function paired(a: readonly Suspect[], b: readonly Suspect[]): readonly Pair[] {
  const pairs: Pair[] = [];
  const takenA = new Set<number>();
  const takenB = new Set<number>();
  for (const key of [wholeKey, conditionsKey, (rule: Suspect) => rule.cause]) {
    a.forEach((rule, i) => {
      if (takenA.has(i)) return;
      const j = b.findIndex((other, at) => !takenB.has(at) && key(other) === key(rule));
      if (j < 0) return;
      takenA.add(i);
      takenB.add(j);
      pairs.push({ a: i, b: j });
    });
  }
  return pairs.sort((one, other) => one.b - other.b);
}

function inside(was: Suspect | undefined, is: Suspect | undefined, at: number): LimitChange[] {
  if (!was || !is) return [];
  const place = `suspects[${at + 1}]`;
  const of = `suspect ${JSON.stringify(is.cause)}, number ${at + 1}`;
  const [before, after] = [was.when.map(conditionText), is.when.map(conditionText)];
  const gone = without(before, after);
  const come = without(after, before);
  return [
    ...(was.cause === is.cause
      ? []
      : [changed(`${place}.cause`, `cause of suspect number ${at + 1}`, was.cause, is.cause)]),
    ...(was.look_at === is.look_at
      ? []
      : [changed(`${place}.look_at`, `where to look for ${of}`, was.look_at, is.look_at)]),
    ...(gone.length + come.length === 0
      ? []
      : [
          changed(
            `${place}.when`,
            `conditions of ${of}`,
            gone.join(" and ") || "none",
            come.join(" and ") || "none",
          ),
        ]),
  ];
}

function changed(place: string, words: string, from: string, to: string): LimitChange {
  return { kind: "changed", place, words, from, to };
}

function whole(kind: "added" | "removed", rule: Suspect, at: number): LimitChange {
  const content = `when ${rule.when.map(conditionText).join(" and ")}: ${rule.look_at}`;
  return {
    kind,
    place: `suspects[${at + 1}]`,
    words: `suspect ${JSON.stringify(rule.cause)}`,
    from: kind === "removed" ? content : null,
    to: kind === "added" ? content : null,
  };
}

/** The first that fits is told first. */
function orderChange(b: readonly Suspect[], pairs: readonly Pair[]): LimitChange[] {
  const old = [...pairs].sort((one, other) => one.a - other.a);
  const first = pairs.findIndex((pair, i) => pair.b !== old[i]?.b);
  if (first < 0) return [];
  const name = (at: number | undefined) =>
    at === undefined ? "none" : `${JSON.stringify(b[at]?.cause)} (number ${at + 1})`;
  const words = "order of the suspects, from where they first differ";
  return [{ kind: "order", place: "suspects", words, from: name(old[first]?.b), to: name(pairs[first]?.b) }];
}

function without(these: readonly string[], those: readonly string[]): string[] {
  return these.filter((text) => !those.includes(text));
}

/** Alike for rules that say the same. */
function wholeKey(rule: Suspect): string {
  return JSON.stringify([rule.cause, rule.look_at, conditionsKey(rule)]);
}

function conditionsKey(rule: Suspect): string {
  return JSON.stringify(rule.when.map(conditionText).sort());
}

function conditionText(condition: Condition): string {
  switch (condition.kind) {
    case "ratio": {
      const bounds = [
        ...(condition.at_least === undefined ? [] : [`at least ${condition.at_least}`]),
        ...(condition.at_most === undefined ? [] : [`at most ${condition.at_most}`]),
      ];
      return `${condition.of} over its ${condition.to} limit is ${bounds.join(" and ")}`;
    }
    case "verdict":
      return `${condition.of} is ${condition.is}`;
    case "finding":
      return `a finding of ${[...condition.codes].sort().join(" or ")}`;
    case "part":
      return `${condition.part} fits ${condition.pattern.source}`;
  }
}
