import fc from "fast-check";
import { expect, test } from "vitest";
import { changeLines } from "../station/limit-change-lines.ts";

test("on a terminal no line is longer than its columns, and no word is lost", () => {
  const texts = fc.array(fc.stringMatching(/^[a-z]{1,20}$/), { minLength: 1, maxLength: 40 });
  fc.assert(
    fc.property(texts, texts, (was, is) => {
      const change = { kind: "changed", place: "reason", words: "reason" } as const;
      const lines = changeLines({ ...change, from: was.join(" "), to: is.join(" ") }, 40);
      for (const line of lines) expect(line.length).toBeLessThanOrEqual(40);
      const words = lines
        .join(" ")
        .split(/\s+/)
        .filter((word) => !["reason", "from", "to", "->"].includes(word));
      expect(words).toEqual([...was, ...is].filter((word) => !["reason", "from", "to"].includes(word)));
    }),
    { numRuns: 50 },
  );
});
