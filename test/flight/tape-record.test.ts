import { mkdirSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { describe, expect, it } from "vitest";
import { recordOfTape } from "../../station/flight/tape-record.ts";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

const traveller = { serial: "A1", verdict: "fail", characteristics: [{ value: 12.5 }] };

function recorded(content: object) {
  const folder = scratchFolder();
  const record = join(folder, "2026/01/05/00000042-A1-1.json");
  mkdirSync(dirname(record), { recursive: true });
  writeFileSync(record, canonicalText(content));
  return { folder, record, tape: join(folder, "flight/2026/01/05/00000042-A1-1.tape") };
}

describe("the record that a tape belongs to", () => {
  it("is the same where tape and records folder have one text", async () => {
    const { tape, record } = recorded(traveller);
    const sha256 = sha256Hex(canonicalText(traveller));
    expect(await recordOfTape(tape, { traveller, sha256 })).toEqual({ is: "same", path: record });
  });

  it("is another one where traveller and SHA-256 on the tape were changed together, or one of them", async () => {
    const { tape } = recorded(traveller);
    const sha256 = sha256Hex(canonicalText(traveller));
    const changed = { ...traveller, verdict: "pass" };
    const ofChanged = sha256Hex(canonicalText(changed));
    for (const told of [
      { traveller: changed, sha256: ofChanged },
      { traveller: changed, sha256 },
      { traveller, sha256: ofChanged },
    ])
      expect((await recordOfTape(tape, told)).is).toBe("another");
  });

  it("is not there where the tape was copied elsewhere, or the records folder has none of its name", async () => {
    const { tape, folder } = recorded(traveller);
    const told = { traveller, sha256: sha256Hex(canonicalText(traveller)) };
    expect((await recordOfTape(join(folder, "00000042-A1-1.tape"), told)).is).toBe("none");
    expect((await recordOfTape(tape.replace("-A1-", "-A2-"), told)).is).toBe("none");
  });
});
