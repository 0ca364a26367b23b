import { type Contradiction, keyOf, listOf, numberOf, textOf } from "./faulty-file.ts";

/** What the retest rule says against itself. */
export function retestContradictions(file: unknown): Contradiction[] {
  const rule = keyOf(file, "retest");
  return [...sameReasons(rule), ...withoutRetest(rule)];
}

function sameReasons(rule: unknown): Contradiction[] {
  const reasons = listOf(rule, "reasons");
  const folded = reasons.map((reason) => (typeof reason === "string" ? reason.toLowerCase() : reason));
  return reasons.flatMap((reason, i) => {
    if (typeof reason !== "string" || folded.indexOf(folded[i]) === i) return [];
    return [
      {
        path: ["retest", "reasons", i],
        expected: "a text that another reason has not",
        found: JSON.stringify(reason),
      },
    ];
  });
}

/** Whoever writes reasons or a pause believes that a failed unit may be tested again. */
function withoutRetest(rule: unknown): Contradiction[] {
  if (numberOf(rule, "after_fail") !== 0) return [];
  const isPaused = textOf(rule, "pause") !== undefined || (numberOf(rule, "pause") ?? 0) > 0;
  return [
    ...(listOf(rule, "reasons").length > 0 ? [needless("reasons")] : []),
    ...(isPaused ? [needless("pause")] : []),
  ];
}

function needless(key: string): Contradiction {
  return {
    path: ["retest", key],
    expected: "no such key, because after_fail allows no retest",
    found: key,
    isAboutKey: true,
  };
}
