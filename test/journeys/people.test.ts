import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { beforeAll, describe, expect, it } from "vitest";
import type { NewPerson } from "../../station/people/edit-people.ts";
import { INSPECTOR, peopleIn } from "../people/people-at.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { drumtight, type Finished } from "./command-line.ts";

const PINS = { "B. Imani": "90517", "A. Marsh": "4862", "C. Holm": "73510" } as const;
type Name = keyof typeof PINS;

/** A station at which people sign in, and its people as the command line sees them. */
class Line {
  readonly station: string;
  readonly people: string;

  constructor(folder = scratchFolder()) {
    this.station = join(folder, "line-2.yaml");
    this.people = join(folder, "people.json");
    const text = readFileSync("sim/demo-station.yaml", "utf8");
    const signIn = 'sign_in: { people: people.json, badge: "^B[0-9]{6}$" }';
    const changed = text.replace(/^sign_in: .*$/m, signIn);
    expect(changed).toContain(signIn);
    writeFileSync(this.station, changed);
  }

  run(args: readonly string[], env: Readonly<Record<string, string>> = {}): Promise<Finished> {
    return drumtight(["people", ...args, "--station", this.station], "", env);
  }

  as(name: Name, args: readonly string[], env: Readonly<Record<string, string>> = {}): Promise<Finished> {
    return this.run([...args, "--as", name], { DRUMTIGHT_PIN: PINS[name], ...env });
  }

  /** With a supervisor and an inspector, whose PINs cost little to check. */
  async withPeople(...others: readonly NewPerson[]): Promise<this> {
    await peopleIn(dirname(this.people), INSPECTOR, ...others);
    return this;
  }

  async listed(): Promise<Record<string, unknown>[]> {
    return JSON.parse((await this.run(["list", "--json"])).stdout).people;
  }
}

describe("drumtight people", { timeout: 120_000 }, () => {
  let line: Line;
  let text: string;
  beforeAll(async () => {
    const folder = mkdtempSync(join(tmpdir(), "drumtight-people-"));
    line = await new Line(folder).withPeople();
    text = readFileSync(line.people, "utf8");
    return () => rmSync(folder, { recursive: true, force: true });
  });

  it("lists who may sign in, and shows no PIN, badge or hash", async () => {
    const { code, stdout } = await line.run(["list"]);
    expect({ code, stdout }).toEqual({
      code: 0,
      stdout: "B. Imani  supervisor  badge, PIN\nA. Marsh  inspector   badge, PIN\n",
    });
    expect(await line.listed()).toMatchObject([
      { name: "B. Imani", role: "supervisor", has_badge: true, disabled: null, added: { by: null } },
      { name: "A. Marsh", has_badge: true, added: { by: "B. Imani" }, locked_until: null },
    ]);
    for (const secret of ["90517", "4862", "B000002"]) expect(text).not.toContain(`"${secret}"`);
    expect((statSync(line.people).mode & 0o777).toString(8)).toBe("600");
  });

  it.each<[string, readonly string[], Readonly<Record<string, string>>, RegExp]>([
    [
      "without a supervisor",
      ["add", "C. Holm", "--role", "engineer"],
      {},
      /add --as with the name of a superv/,
    ],
    [
      "for an inspector",
      ["disable", "B. Imani", "--as", "A. Marsh"],
      { DRUMTIGHT_PIN: "4862" },
      /A\. Marsh is an inspector: ask a supervisor/,
    ],
    [
      "without a PIN",
      ["disable", "A. Marsh", "--as", "B. Imani"],
      {},
      /No PIN was given for B\. Imani: type it, or put it into DRUMTIGHT_PIN/,
    ],
    [
      "with an easy new PIN",
      ["add", "C. Holm", "--role", "engineer", "--as", "B. Imani"],
      { DRUMTIGHT_PIN: "90517", DRUMTIGHT_NEW_PIN: "1234" },
      /Choose another PIN: one that does not count up or down/,
    ],
    [
      "with what is no badge of the station",
      ["add", "C. Holm", "--role", "engineer", "--badge", "--as", "B. Imani"],
      { DRUMTIGHT_PIN: "90517", DRUMTIGHT_NEW_PIN: "73510", DRUMTIGHT_NEW_BADGE: "POD000123" },
      /no badge by the station file's pattern/,
    ],
    [
      "with a badge somebody else has",
      ["add", "C. Holm", "--role", "engineer", "--badge", "--as", "B. Imani"],
      { DRUMTIGHT_PIN: "90517", DRUMTIGHT_NEW_PIN: "73510", DRUMTIGHT_NEW_BADGE: "B000002" },
      /That badge is A\. Marsh's/,
    ],
    [
      "with a badge for a name",
      ["add", "B000003", "--role", "engineer", "--as", "B. Imani"],
      { DRUMTIGHT_PIN: "90517", DRUMTIGHT_NEW_PIN: "73510" },
      /That is a badge, not a name/,
    ],
    [
      "to the last supervisor",
      ["disable", "b. imani", "--as", "B. Imani"],
      { DRUMTIGHT_PIN: "90517" },
      /last supervisor who is not disabled/,
    ],
    [
      "to somebody unknown",
      ["disable", "D. Lund", "--as", "B. Imani"],
      { DRUMTIGHT_PIN: "90517" },
      /Nobody is called "D\. Lund": see drumtight people list/,
    ],
    ["with an unknown role", ["add", "C. Holm", "--role", "boss"], {}, /inspector, engineer, supervisor/],
  ])("changes nothing %s, and says why in a sentence", async (_, args, env, words) => {
    const { code, stdout, stderr } = await line.run(args, env);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toMatch(words);
    for (const secret of Object.values(env)) expect(stderr).not.toContain(secret);
    expect(readFileSync(line.people, "utf8")).toBe(text);
  });

  it("locks --as after three wrong PINs, lists that, and is unlocked by another supervisor", async () => {
    const holm = { name: "C. Holm", role: "supervisor", pin: PINS["C. Holm"], badge: null } as const;
    const its = await new Line().withPeople(holm);
    const disable = ["disable", "A. Marsh", "--as", "C. Holm"];
    for (let i = 0; i < 3; i++) await its.run(disable, { DRUMTIGHT_PIN: "0000" });
    const locked = await its.run(disable, { DRUMTIGHT_PIN: "73510" });
    expect(locked.code).toBe(2);
    expect(locked.stderr).toMatch(/^Locked for another \d+ s after 3 wrong PINs/);
    expect((await its.run(["list"])).stdout).toMatch(/C\. Holm .* locked for another \d+ s/);
    expect(await its.as("B. Imani", ["unlock", "C. Holm"])).toMatchObject({
      code: 0,
      stdout: "Every wrong PIN of C. Holm is forgotten.\n",
    });
    expect(await its.run(disable, { DRUMTIGHT_PIN: "73510" })).toMatchObject({ code: 0 });
  });

  it("disables, enables and changes people", async () => {
    const its = await new Line().withPeople();
    const pins = { DRUMTIGHT_NEW_PIN: "73510" };
    expect(await its.as("B. Imani", ["disable", "a. marsh"])).toEqual({
      code: 0,
      stdout: "A. Marsh can sign in no more.\n",
      stderr: "",
    });
    expect((await its.listed())[1]).toMatchObject({ disabled: { by: "B. Imani" } });
    await its.as("B. Imani", ["enable", "A. Marsh"]);
    await its.as("B. Imani", ["change", "A. Marsh", "--role", "supervisor", "--pin", "--no-badge"], pins);
    expect((await its.listed())[1]).toMatchObject({ role: "supervisor", has_badge: false, disabled: null });
    // The new role and PIN hold.
    expect(
      await its.run(["disable", "B. Imani", "--as", "A. Marsh"], { DRUMTIGHT_PIN: "73510" }),
    ).toMatchObject({
      code: 0,
    });
  });

  it("loses nobody when two programs add at once", async () => {
    const its = await new Line().withPeople();
    const names = ["D. Lund", "E. Okoro"];
    const added = await Promise.all(
      names.map((name) =>
        its.as("B. Imani", ["add", name, "--role", "inspector"], { DRUMTIGHT_NEW_PIN: "86420" }),
      ),
    );
    expect(added).toMatchObject([{ code: 0 }, { code: 0 }]);
    const listed = (await its.listed()).map(({ name }) => name);
    expect(new Set(listed)).toEqual(new Set(["B. Imani", "A. Marsh", ...names]));
  });

  it("begins with a supervisor, who needs nobody's leave and then lets others in", async () => {
    const its = new Line();
    const refused = await its.run(["add", "A. Marsh", "--role", "inspector"], { DRUMTIGHT_NEW_PIN: "4862" });
    expect(refused).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(/The first person must be a supervisor/),
    });
    expect(
      await its.run(["add", "B. Imani", "--role", "supervisor"], { DRUMTIGHT_NEW_PIN: PINS["B. Imani"] }),
    ).toEqual({ code: 0, stdout: "B. Imani may sign in as supervisor, with name and PIN.\n", stderr: "" });
    const badge = { DRUMTIGHT_NEW_PIN: "4862", DRUMTIGHT_NEW_BADGE: "B000002" };
    expect(await its.as("B. Imani", ["add", "A. Marsh", "--role", "inspector", "--badge"], badge)).toEqual({
      code: 0,
      stdout: "A. Marsh may sign in as inspector, with badge, or name and PIN.\n",
      stderr: "",
    });
    // Their hashes are as dear as they should be.
    const { people } = JSON.parse(readFileSync(its.people, "utf8"));
    expect(people[1].pin).toMatchObject({ kdf: "scrypt", N: 32_768, r: 8, p: 3 });
  });

  it("says in a sentence which people file is meant, missing or broken", async () => {
    const none = await drumtight(["people", "list"]);
    expect(none).toMatchObject({ code: 2, stderr: "Say which people: --station FILE, or --people FILE.\n" });
    const off = await drumtight(["people", "list", "--station", "sim/demo-station.yaml"]);
    expect(off.code).toBe(2);
    const folder = scratchFolder();
    const path = join(folder, "people.json");
    const missing = await drumtight(["people", "list", "--people", path]);
    expect(missing).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(/^Nobody is in the people file yet/),
    });
    writeFileSync(path, '{"drumtight":"people/1"');
    const broken = await drumtight(["people", "list", "--people", path]);
    expect(broken).toMatchObject({
      code: 2,
      stderr: expect.stringMatching(
        /people\.json is broken \(it is no whole JSON file\)\. Nobody can sign in/,
      ),
    });
  });

  it.each(["add", "change", "disable", "enable", "unlock", "list"])("shows how to %s", async (command) => {
    const { code, stdout } = await drumtight(["people", command, "--help"]);
    expect(code).toBe(0);
    expect(stdout).toMatch(new RegExp(`Example:\\n {2}\\$ drumtight people ${command}`));
  });
});
