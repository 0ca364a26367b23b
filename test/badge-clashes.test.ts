import { expect, test } from "vitest";
import { changed, GOOD, lineOf, problemsIn } from "./made-station-file.ts";

const withBadge = (pattern: string) =>
  changed(GOOD, ['sign_in: "off"', `sign_in: { people: people.json, badge: "${pattern}", idle: 10 min }`]);

test.each([
  ["^[A-Z]{3}[0-9]{6}$", /takes (POD|TUB)[0-9]{6}, as the serials of (POD-4|TUB-12) do/],
  ["^[TX][1-9]$", /takes T[1-4], as the tub_cavity of TUB-12 does/],
  ["^REF-TIGHT-(POD-4|TUB-12)$", /takes REF-TIGHT-POD-4, a reference piece/],
])(
  "a badge pattern %s that takes a label of the line is refused at its place, with such a label",
  (pattern, found) => {
    const text = withBadge(pattern);
    const problems = problemsIn(text).filter(({ path }) => path === "sign_in.badge");
    expect(problems.map(({ line }) => line)).toEqual([lineOf(text, "sign_in:")]);
    expect(problems[0]?.found).toMatch(found);
    expect(problems[0]?.expected).toBe("badges that are no serial, part or reference piece");
  },
);

test("a badge pattern of its own is fine, though a serial has its characters in it", () => {
  expect(problemsIn(withBadge("^B[0-9]{6}$"))).toEqual([]);
});
