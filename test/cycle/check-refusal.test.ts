import { expect, test } from "vitest";
import { refuseCheck, refuseChecks } from "../../station/cycle/check-refusal.ts";
import { POD, TUB } from "../scan-models.ts";

test("wrong check characters of a unit and its parts are all named, and right ones let through", () => {
  const hose_code = "6291041500218";
  expect(refuseChecks({ serial: "POD531814", parts: {} }, POD)).toEqual([
    {
      code: "CHECK_CHARACTER_WRONG",
      sentence: "POD531814: the check character says 4 and must be 7. Scan the label again.",
    },
  ]);
  expect(refuseChecks({ serial: "TUB000123", parts: { hose_code, tub_cavity: "T1" } }, TUB)).toMatchObject([
    { sentence: "hose code 6291041500218: the check digit says 8 and must be 3. Scan the label again." },
  ]);
  expect(refuseChecks({ serial: "POD531817", parts: {} }, POD)).toEqual([]);
  expect(refuseChecks({ serial: "TUB000123", parts: { hose_code: "6291041500213" } }, TUB)).toEqual([]);
});

test("of a text that can't have them the reason is said", () => {
  expect(refuseCheck(null, "pod531817", "mod-37-36")[0]?.sentence).toBe(
    'pod531817: "p" can\'t be in it; with a MOD 37,36 check character it has digits and capital letters A to Z. Scan the label again.',
  );
  expect(refuseCheck("hose_code", "7", "gs1")[0]?.sentence).toBe(
    "hose code 7: it is too short to have a GS1 check digit. Scan the label again.",
  );
  expect(refuseCheck(null, "79445", "mod-97-10")[0]?.sentence).toBe(
    "79445: the check digits say 45 and must be 44. Scan the label again.",
  );
});

test("what a scanner makes of a damaged label is shown so that no terminal obeys it", () => {
  expect(refuseCheck(null, "POD\u202e\x1b7", "mod-37-36")[0]?.sentence).toMatch(
    /^POD\\u202e\\u001b7: "\\u202e" can't/,
  );
});
