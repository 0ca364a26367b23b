import { copyFileSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import { expect, it } from "vitest";
import { auditLimits } from "../station/audit-limits.ts";
import { readStationFileAlone } from "../station/load-station.ts";
import { sha256Hex } from "../station/records/chain.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

const FILES = ["pod-4.yaml", "pod-4.yaml.approval.json"] as const;

it("limit files as they were approved are no finding, and neither is one that nobody has approved yet", () => {
  const station = withLimits();
  expect(auditLimits(station, new Map())).toEqual({ findings: [], notes: [] });
  rmSync(join(station.limitsFolder, FILES[1]));
  const { findings, notes } = auditLimits(station, new Map());
  expect(findings).toEqual([]);
  expect(notes).toEqual([expect.stringContaining("POD-4 revision 4 is a draft")]);
});

it("any one changed bit of a limit file or its approval is found, and the file named", () => {
  const station = withLimits();
  const inFile = fc.constantFrom(...FILES).chain((name) => {
    const bits = 8 * readFileSync(join("limits/models", name)).length;
    return fc.tuple(fc.constant(name), fc.integer({ min: 0, max: bits - 1 }));
  });
  fc.assert(
    fc.property(inFile, ([name, bit]) => {
      const path = join(station.limitsFolder, name);
      const bytes = readFileSync(path);
      const changed = Buffer.from(bytes);
      changed[bit >> 3] = (bytes[bit >> 3] ?? 0) ^ (1 << (bit & 7));
      writeFileSync(path, changed);
      const { findings } = auditLimits(station, new Map());
      writeFileSync(path, bytes);
      expect(findings.map(({ path: found }) => found)).toContain(join(station.limitsFolder, FILES[0]));
    }),
    { numRuns: 8 },
  );
});

it("an approval that is gone is a finding where the limit file has judged units as an approved one", () => {
  const station = withLimits();
  const path = join(station.limitsFolder, FILES[0]);
  const judged = { name: FILES[0], model: "POD-4", revision: 4, path: "2026/01/05/1.json", isDraft: false };
  rmSync(join(station.limitsFolder, FILES[1]));
  const { findings } = auditLimits(station, new Map([[sha256Hex(readFileSync(path)), judged]]));
  expect(findings).toEqual([expect.objectContaining({ kind: "limits", path })]);
});

it("a limit file that has the revision of another one that judged units is a finding", () => {
  const station = withLimits();
  const judged = { name: FILES[0], model: "POD-4", revision: 4, path: "2026/01/05/1.json", isDraft: false };
  const { findings } = auditLimits(station, new Map([["a".repeat(64), judged]]));
  expect(findings.map(({ what }) => what)).toEqual([
    "POD-4 revision 4 was another file when it judged 2026/01/05/1.json: whoever changes limits raises the revision",
  ]);
  expect(auditLimits(station, new Map([["a".repeat(64), { ...judged, isDraft: true }]])).findings).toEqual(
    [],
  );
});

it("older limits that were put back with their approval are a finding, however genuine both are", () => {
  const station = withLimits();
  const path = join(station.limitsFolder, FILES[0]);
  const own = sha256Hex(readFileSync(path));
  const judging = (revision: number, isDraft: boolean) =>
    new Map([
      [own, { name: FILES[0], model: "POD-4", revision: 4, path: "2026/01/05/1.json", isDraft: false }],
      ["b".repeat(64), { name: FILES[0], model: "POD-4", revision, path: "2026/01/05/9.json", isDraft }],
    ]);
  expect(auditLimits(station, judging(5, false)).findings).toEqual([
    {
      kind: "limits",
      path,
      what: "it is POD-4 revision 4, and revision 5 judged 2026/01/05/9.json already: whoever goes back to older limits raises the revision",
    },
  ]);
  expect(auditLimits(station, judging(5, true)).findings).toEqual([]);
  expect(auditLimits(station, judging(3, false)).findings).toEqual([]);
});

it("limits that judged units and are gone are noted, and are a finding where their approval is still there", () => {
  const station = withLimits();
  for (const name of ["tub-12.yaml", "tub-12.yaml.approval.json"])
    copyFileSync(join("limits/models", name), join(station.limitsFolder, name));
  const judged = { name: FILES[0], model: "POD-4", revision: 4, path: "2026/01/05/1.json", isDraft: false };
  const judging = new Map([["a".repeat(64), judged]]);
  rmSync(join(station.limitsFolder, FILES[0]));
  const { findings } = auditLimits(station, judging);
  expect(findings).toEqual([
    {
      kind: "limits",
      path: join(station.limitsFolder, FILES[0]),
      what: "the limits of POD-4, revision 4 when they judged 2026/01/05/1.json, are not there any more, and their approval is",
    },
  ]);
  rmSync(join(station.limitsFolder, FILES[1]));
  expect(auditLimits(station, judging)).toEqual({
    findings: [],
    notes: [expect.stringContaining("are not there any more: withdrawn, or removed.")],
  });
});

it("limit files that can't be read are a finding", () => {
  const station = { ...withLimits(), limitsFolder: join(scratchFolder(), "nowhere") };
  expect(auditLimits(station, new Map()).findings).toEqual([
    expect.objectContaining({ kind: "unreadable", path: station.limitsFolder }),
  ]);
});

function withLimits() {
  const limitsFolder = scratchFolder();
  for (const name of FILES) copyFileSync(join("limits/models", name), join(limitsFolder, name));
  return { limitsFolder, approvers: readStationFileAlone("sim/demo-station.yaml").approvers };
}
