import { mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { filesBelow, smallFolder } from "../records/audited-folder.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { drumtight } from "./command-line.ts";
import { changedStation, plain } from "./plain-station.ts";

it("audit says that records are intact with 0, what is wrong with 1, and that it can't look with 2", {
  timeout: 240_000,
}, async () => {
  const { folder, copies, publicKey } = await smallFolder(scratchFolder());
  const asked = ["audit", "--records", folder, "--heads", copies, "--public-key", publicKey];
  const intact = await drumtight(asked);
  expect(intact).toMatchObject({ code: 0, stderr: "" });
  expect(intact.stdout).toContain(
    "Trusted up to traveller number 3, A3 attempt 1 of 2026-01-05 06:00 UTC, SHA-256",
  );
  const path = filesBelow(folder).find((name) => name.includes("00000002-A2")) ?? "";
  const text = readFileSync(join(folder, path), "utf8");
  writeFileSync(join(folder, path), text.replace('"value":22.4', '"value":12.4'));
  const changed = await drumtight([...asked, "--json"]);
  expect(changed).toMatchObject({ code: 1, stderr: "" });
  expect(JSON.parse(changed.stdout)).toMatchObject({
    folder,
    intact: false,
    findings: [
      { kind: "altered", path, what: "it is not what head 2 of 2026-01-05 06:00 UTC has signed" },
      {
        kind: "truncated",
        path: "travellers",
        what: expect.stringContaining("attempt 1 of A2, on which dispositions/00000001.json decided"),
      },
    ],
    chains: { travellers: { count: 3, trusted: { sequence: 1, head: null } } },
  });
  expect(await drumtight(["audit", "--records", `${folder}-gone`])).toMatchObject({
    code: 2,
    stderr: `There is no records folder ${folder}-gone.\n`,
  });
});

it("from a new key to an accepted loss, an engineer comes through by the words of the program", {
  timeout: 240_000,
}, async () => {
  const beside = scratchFolder();
  const key = join(beside, "station-key.pem");
  const made = await drumtight(["audit", "new-key", "--out", key]);
  expect(made.code).toBe(0);
  expect(statSync(key).mode & 0o777).toBe(0o600);
  const copies = join(beside, "copies");
  mkdirSync(copies);
  const lines = made.stdout.replace("FOLDER ON ANOTHER DISK", copies);
  const station = changedStation((text) => `${plain(text)}\n${lines}`);
  const records = join(beside, "records");
  const tests = ["run", "--simulate", "--station", station, "--records", records, "--units", "2"];
  expect((await drumtight(tests)).code).toBe(0);
  const audit = ["audit", "--station", station, "--records", records];
  for (const path of filesBelow(records)) {
    if (path.includes("00000002-") || path.startsWith(".index")) rmSync(join(records, path));
  }
  const cut = await drumtight(audit);
  expect(cut.code).toBe(1);
  expect(cut.stdout).toContain("knew of number 2, not there any more: the chain ends with number 1.");
  const accept = ["audit", "accept-loss", "--station", station, "--records", records];
  const accepted = await drumtight([...accept, "--as", "A. Marsh", "--reason", "disk failed"]);
  expect(accepted, accepted.stderr).toMatchObject({
    code: 0,
    stdout: expect.stringContaining("head 3: A. Marsh answers for the loss."),
  });
  const after = await drumtight(audit);
  expect(after.stdout).toMatch(/Known loss: head 2 of .* A\. Marsh answered for it on .*: disk failed/);
  expect(after.code).toBe(0);
});
