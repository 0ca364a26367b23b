import { generateKeyPairSync } from "node:crypto";
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, test, vi } from "vitest";
import { verifyApproval } from "../limits/approval.ts";
import { loadLimitFile } from "../limits/limit-file.ts";
import { limits } from "./run-limits.ts";

const TUB = join(import.meta.dirname, "limits/good.yaml");

let folder = "";
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "limits-command-"));
  vi.stubEnv("DRUMTIGHT_PASSPHRASE", "river stone");
});
afterEach(() => {
  rmSync(folder, { recursive: true });
  vi.unstubAllEnvs();
});

test("a new key approves a file so that the station takes it", async () => {
  const [key, file] = [join(folder, "key.pem"), join(folder, "tub-12.yaml")];
  copyFileSync(TUB, file);
  const made = JSON.parse((await limits("new-key", "--as", "B. Imani", "--out", key, "--json")).out);
  expect(statSync(key).mode & 0o777).toBe(0o600);
  expect(await limits("approve", file, "--as", "B. Imani", "--key", key)).toMatchObject({
    exitCode: 0,
    err: "",
  });
  const state = verifyApproval(
    readFileSync(file),
    loadLimitFile(file),
    readFileSync(`${file}.approval.json`, "utf8"),
    [{ name: made.name, publicKey: made.public_key }],
  );
  expect(state).toMatchObject({ ok: true, approver: "B. Imani" });
});

describe("approve", () => {
  const [key, file] = ["imani.pem", "tub-12.yaml"].map((name) => () => join(folder, name)) as [
    () => string,
    () => string,
  ];
  const approve = () => limits("approve", file(), "--as", "B. Imani", "--key", key());
  beforeEach(async () => {
    copyFileSync(TUB, file());
    await limits("new-key", "--as", "B. Imani", "--out", key());
  });

  test("says from when it judges, and that a second time changes nothing", async () => {
    expect((await approve()).out).toMatch(
      /approved by B\. Imani; revision 1 is effective since 2026-01-05\n/,
    );
    const [approval, history] = [`${file()}.approval.json`, `${file()}.history.jsonl`].map((path) =>
      readFileSync(path, "utf8"),
    );
    expect(await approve()).toMatchObject({
      exitCode: 0,
      out: expect.stringMatching(/approved by B\. Imani on 20.* already; nothing was changed\n$/),
    });
    expect(readFileSync(`${file()}.approval.json`, "utf8")).toBe(approval);
    expect(readFileSync(`${file()}.history.jsonl`, "utf8")).toBe(history);
    writeFileSync(
      file(),
      readFileSync(TUB, "utf8")
        .replace("revision: 1", "revision: 2")
        .replace("2026-01-05", "2999-01-01")
        .replace("First limits, from the pilot build.", "Looser from the year 3000 on."),
    );
    expect((await approve()).out).toMatch(/revision 2 takes effect on 2999-01-01\n/);
  });

  test("a write that a power cut ended leaves no half approval, and is made good by approving again", async () => {
    await approve();
    const approval = `${file()}.approval.json`;
    rmSync(approval);
    writeFileSync(`${approval}.part`, "{ half");
    const log = await limits("log", file());
    expect(log.out).toContain("revision 1, not approved");
    expect((await approve()).exitCode).toBe(0);
    expect((await limits("log", file())).out).toContain("revision 1, approved");
  });

  test("the approver sees what a colleague would ask, before the passphrase", async () => {
    writeFileSync(file(), readFileSync(TUB, "utf8").replace("First limits, from the pilot build.", "update"));
    expect((await approve()).err).toContain('warning: "update" does not say why');
  });

  test("a history that can't be read is named, and nothing is signed", async () => {
    mkdirSync(`${file()}.history.jsonl`);
    await expect(approve()).rejects.toThrow(
      /history\.jsonl is not as it was written: it can't be read .*Nothing was approved/,
    );
    expect(existsSync(`${file()}.approval.json`)).toBe(false);
    expect(await limits("log", file())).toMatchObject({
      exitCode: 1,
      err: expect.stringMatching(/it can't be read \(EISDIR\)/),
    });
  });

  test("a key without passphrase signs nothing", async () => {
    const { privateKey } = generateKeyPairSync("ed25519");
    writeFileSync(key(), privateKey.export({ type: "pkcs8", format: "pem" }));
    expect(await approve()).toMatchObject({ exitCode: 2, err: expect.stringMatching(/has no passphrase/) });
  });

  test("another revision under a name of its own is held against the approvals of those beside it", async () => {
    await approve();
    const next = join(folder, "tub-12.next.yaml");
    writeFileSync(next, readFileSync(TUB, "utf8").replace("60 mL/min", "90 mL/min"));
    const refused = await limits("approve", next, "--as", "B. Imani", "--key", key());
    expect(refused.err).toMatch(/says something else: give this one revision 2 or higher/);
    expect((await limits("log", next)).out).toMatch(
      /revision 1, not approved\nrevision 1: approved by B\. Imani/,
    );
  });

  test("log names an approval by a key that the station does not list", async () => {
    await approve();
    const { exitCode, err } = await limits("log", file(), "--station", "sim/demo-station.yaml");
    expect(exitCode).toBe(1);
    expect(err).toMatch(
      /Revision 1 was approved in the name of B\. Imani with a key that the station does not list/,
    );
  });
});

test("a key file is never overwritten", async () => {
  const key = join(folder, "key.pem");
  writeFileSync(key, "precious");
  const result = await limits("new-key", "--as", "B. Imani", "--out", key);
  expect(result).toMatchObject({ exitCode: 2, err: `${key}: is there already and is not overwritten\n` });
  expect(readFileSync(key, "utf8")).toBe("precious");
});

test("the author cannot approve, and a wrong passphrase opens nothing", async () => {
  const [key, file] = [join(folder, "key.pem"), join(folder, "tub-12.yaml")];
  copyFileSync(TUB, file);
  await limits("new-key", "--as", "A. Marsh", "--out", key);
  expect(await limits("approve", file, "--as", "A. Marsh", "--key", key)).toMatchObject({
    exitCode: 1,
    err: "A. Marsh wrote this revision; somebody else has to approve it.\n",
  });
  vi.stubEnv("DRUMTIGHT_PASSPHRASE", "wrong");
  expect(await limits("approve", file, "--as", "B. Imani", "--key", key)).toMatchObject({ exitCode: 2 });
});

describe("the life of a limit file", () => {
  /** A limit file that grows revision by revision, with a key to approve it. */
  async function life() {
    const file = join(folder, "tub-12.yaml");
    const key = join(folder, "imani.pem");
    await limits("new-key", "--as", "B. Imani", "--out", key);
    const write = (revision: number, reason: string, from = "", to = "") =>
      writeFileSync(
        file,
        readFileSync(TUB, "utf8")
          .replace("revision: 1", `revision: ${revision}`)
          .replace("First limits, from the pilot build.", reason)
          .replace(from, to),
      );
    const approve = () => limits("approve", file, "--as", "B. Imani", "--key", key);
    return { file, write, approve };
  }

  test("log tells every revision, who approved it when, and why it was made", async () => {
    const { file, write, approve } = await life();
    write(1, "Limits of the pilot build.");
    await approve();
    write(2, "Gasket of lot G0042 leaks less.", "60 mL/min @", "55 mL/min @");
    expect((await approve()).exitCode).toBe(0);
    const { exitCode, out, err } = await limits("log", file);
    expect(err).toBe("");
    expect(exitCode).toBe(0);
    expect(out.split("\n").map((line) => line.replace(/ on 20.* UTC/, ""))).toEqual([
      `TUB-12: ${file}, revision 2, approved`,
      "revision 1: approved by B. Imani, effective 2026-01-05, written by A. Marsh",
      "  Limits of the pilot build.",
      "revision 2: approved by B. Imani, effective 2026-01-05, written by A. Marsh",
      "  Gasket of lot G0042 leaks less.",
      "",
    ]);
    const { revisions, in_place } = JSON.parse((await limits("log", "--json", file)).out);
    expect(revisions.map(({ reason }: { reason: string }) => reason)).toEqual([
      "Limits of the pilot build.",
      "Gasket of lot G0042 leaks less.",
    ]);
    expect(in_place).toMatchObject({ revision: 2, approved: true });
  });

  test("other limits under an approved revision's number are neither approved nor passed over by check", async () => {
    const { file, write, approve } = await life();
    write(1, "Limits of the pilot build.");
    await approve();
    write(1, "Gasket of lot G0042 leaks less.", "60 mL/min @", "55 mL/min @");
    const why =
      /TUB-12 revision 1 was approved by B\. Imani on .* and says something else: give this one revision 2 or higher/;
    const refused = await limits("approve", file, "--as", "B. Imani", "--key", join(folder, "imani.pem"));
    expect(refused).toMatchObject({ exitCode: 1, out: "", err: expect.stringMatching(why) });
    const checked = await limits("check", file);
    expect(checked).toMatchObject({ exitCode: 0, err: expect.stringMatching(why) });
    write(2, "Limits of the pilot build.", "60 mL/min @", "55 mL/min @");
    expect((await limits("check", file)).err).toMatch(/warning: The reason is that of revision 1/);
  });

  test("check asks why where the reason says nothing", async () => {
    const { file, write } = await life();
    write(1, "update");
    expect(await limits("check", file)).toMatchObject({
      exitCode: 0,
      err: expect.stringContaining(`${file}: warning: "update" does not say why this revision was made`),
    });
  });

  test("a history in which a letter was changed, or a line taken out, is told by log and not added to", async () => {
    const { file, write, approve } = await life();
    for (const revision of [1, 2, 3]) {
      write(revision, `Limits of pilot build ${revision}.`);
      await approve();
    }
    const path = `${file}.history.jsonl`;
    const whole = readFileSync(path, "utf8");
    const lines = whole.split("\n");
    for (const broken of [
      whole.replace("pilot build 2", "pilot build 9"),
      [lines[0], ...lines.slice(2)].join("\n"),
      whole.slice(0, -20),
    ]) {
      writeFileSync(path, broken);
      const told = await limits("log", file);
      expect(told.exitCode).toBe(1);
      expect(told.err).toMatch(/history.jsonl is not as it was written: line [23] /);
      write(4, "Limits of pilot build 4.");
      await expect(approve()).rejects.toThrow(/is not as it was written.*Nothing was approved/);
      expect(readFileSync(path, "utf8")).toBe(broken);
    }
  });
});
