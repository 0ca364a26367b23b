import { readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { disablePerson } from "../../station/people/edit-people.ts";
import { peopleFile } from "../../station/people/people-file.ts";
import { SignIn, type SignInAnswer } from "../../station/people/sign-in.ts";
import { readOnlyView } from "../records/scratch-folder.ts";
import { INSPECTOR, peopleAt, SUPERVISOR } from "./people-at.ts";

/** A clock on which a test says what time it is. */
class Wall {
  now_ms = Date.parse("2026-01-05T06:00:00Z");
  wall_ms = () => this.now_ms;
  pass_s(seconds: number): void {
    this.now_ms += seconds * 1000;
  }
}

async function desk() {
  const path = await peopleAt(INSPECTOR);
  const clock = new Wall();
  /** A station that is started again reads all there is from disk. */
  const open = () => new SignIn({ settings: { path, badge: /^B[0-9]{6}$/u }, clock });
  return { path, clock, open, signIn: open(), triesPath: path.replace(".json", ".tries.json") };
}

const WRONG = { ok: false, sentence: "Name or PIN is wrong. Try again.", lockedUntil_ms: null };

describe("signing in", () => {
  it("takes a name, whatever its case and blanks, with its PIN", async () => {
    const { signIn } = await desk();
    expect(await signIn.byPin("  a.  MARSH ", "4862")).toEqual({
      ok: true,
      who: { name: "A. Marsh", role: "inspector", how: "pin" },
    });
  });

  it("takes a badge alone", async () => {
    const { signIn } = await desk();
    expect(await signIn.byBadge("B000001")).toEqual({
      ok: true,
      who: { name: "B. Imani", role: "supervisor", how: "badge" },
    });
  });

  it("says the same for a wrong PIN, an unknown name and somebody disabled", async () => {
    const { signIn, path } = await desk();
    await peopleFile(path).edit((now) => disablePerson(now, "A. Marsh", { by: "B. Imani", at_ms: 0 }));
    expect(await signIn.byPin("B. Imani", "4863")).toEqual(WRONG);
    expect(await signIn.byPin("C. Holm", "4862")).toEqual(WRONG);
    expect(await signIn.byPin("A. Marsh", "4862")).toEqual(WRONG);
  });

  it("refuses the badge of somebody disabled like one that nobody has, at once", async () => {
    const { signIn, path } = await desk();
    expect(await signIn.byBadge("B000002")).toMatchObject({ ok: true });
    await peopleFile(path).edit((now) => disablePerson(now, "A. Marsh", { by: "B. Imani", at_ms: 0 }));
    const disabled = await signIn.byBadge("B000002");
    expect(disabled).toMatchObject({ ok: false });
    expect(await signIn.byBadge("B999999")).toEqual(disabled);
  });

  it("takes no PIN for a badge and no badge for a PIN", async () => {
    const { signIn } = await desk();
    expect(await signIn.byBadge("4862")).toMatchObject({ ok: false });
    expect(await signIn.byPin("A. Marsh", "B000002")).toEqual(WRONG);
  });
});

describe("the lock after wrong tries", () => {
  async function wrong(signIn: SignIn, times: number): Promise<SignInAnswer[]> {
    const answers: SignInAnswer[] = [];
    for (let i = 0; i < times; i++) answers.push(await signIn.byPin("A. Marsh", "0000"));
    return answers;
  }

  it("begins with the third wrong PIN and says for how long, and what else can be done", async () => {
    const { signIn, clock } = await desk();
    expect(await wrong(signIn, 3)).toEqual([
      WRONG,
      WRONG,
      {
        ok: false,
        sentence:
          "Name or PIN is wrong. Locked for 30 s after 3 wrong PINs. Wait, or scan your badge, or let a supervisor unlock the name.",
        lockedUntil_ms: clock.now_ms + 30_000,
      },
    ]);
  });

  it("refuses even the right PIN until it is over, and counts nothing meanwhile", async () => {
    const { signIn, clock } = await desk();
    await wrong(signIn, 3);
    clock.pass_s(29.5);
    expect(await signIn.byPin("A. Marsh", "4862")).toMatchObject({
      ok: false,
      sentence: expect.stringMatching(/^Locked for another 1 s after 3 wrong PINs/),
    });
    clock.pass_s(0.5);
    expect(await signIn.byPin("A. Marsh", "4862")).toMatchObject({ ok: true });
  });

  it("doubles with each further one, to 15 min at most, and ends with a right PIN", async () => {
    const { signIn, clock } = await desk();
    await wrong(signIn, 2);
    const locks: number[] = [];
    for (let i = 0; i < 8; i++) {
      const [answer] = await wrong(signIn, 1);
      const until_ms = answer?.ok === false ? (answer.lockedUntil_ms ?? 0) : 0;
      locks.push((until_ms - clock.now_ms) / 1000);
      clock.now_ms = until_ms;
    }
    expect(locks).toEqual([30, 60, 120, 240, 480, 900, 900, 900]);
    expect(await signIn.byPin("A. Marsh", "4862")).toMatchObject({ ok: true });
    expect(await wrong(signIn, 1)).toEqual([WRONG]);
  });

  it("outlasts a station that is started again", async () => {
    const { signIn, open } = await desk();
    await wrong(signIn, 3);
    expect(await open().byPin("A. Marsh", "4862")).toMatchObject({ ok: false });
  });

  it("locks one name and no other, and no badge", async () => {
    const { signIn } = await desk();
    await wrong(signIn, 3);
    expect(await signIn.byPin("B. Imani", SUPERVISOR.pin)).toMatchObject({ ok: true });
    expect(await signIn.byBadge("B000002")).toMatchObject({ ok: true });
  });

  it("locks badges as a whole, with name and PIN left as the way in", async () => {
    const { signIn } = await desk();
    for (const badge of ["B111111", "B222222"]) await signIn.byBadge(badge);
    expect(await signIn.byBadge("B333333")).toMatchObject({
      sentence: expect.stringMatching(
        /Locked for 30 s after 3 wrong badges. Wait, or sign in with name and PIN/,
      ),
    });
    expect(await signIn.byBadge("B000002")).toMatchObject({ ok: false });
    expect(await signIn.byPin("A. Marsh", "4862")).toMatchObject({ ok: true });
  });

  describe("of badges", () => {
    const FREE = { ok: false, lockedUntil_ms: null };
    async function wrongBadges(signIn: SignIn, times: number): Promise<SignInAnswer[]> {
      const answers: SignInAnswer[] = [];
      for (let i = 0; i < times; i++) answers.push(await signIn.byBadge(`B7000${10 + i}`));
      return answers;
    }

    it("comes just as soon for somebody who scans a badge of their own in between", async () => {
      const { signIn, open, clock } = await desk();
      for (let i = 0; i < 2; i++) {
        expect(await wrongBadges(signIn, 1)).toMatchObject([FREE]);
        expect(await open().byBadge("B000002")).toMatchObject({ ok: true });
      }
      const [third] = await wrongBadges(signIn, 1);
      expect(third).toMatchObject({ lockedUntil_ms: clock.now_ms + 30_000 });
      clock.pass_s(30);
      expect(await signIn.byBadge("B000002")).toMatchObject({ ok: true });
      const [fourth] = await wrongBadges(signIn, 1);
      expect(fourth).toMatchObject({ lockedUntil_ms: clock.now_ms + 60_000 });
    });

    it("never comes from right badges, however many, and at once", async () => {
      const { signIn, open } = await desk();
      const answers = await Promise.all(
        Array.from({ length: 2 }, () => [signIn.byBadge("B000001"), open().byBadge("B000002")]).flat(),
      );
      expect(answers.filter(({ ok }) => ok).length).toBeGreaterThan(0);
      expect(await wrongBadges(signIn, 2)).toMatchObject([FREE, FREE]);
    });

    it("is not the price of stray scans: each hour takes one off, whoever has signed in since", async () => {
      const { signIn, clock } = await desk();
      for (let day = 0; day < 3; day++) {
        expect(await wrongBadges(signIn, 2)).toMatchObject([FREE, FREE]);
        clock.pass_s(3600);
        expect(await signIn.byBadge("B000002")).toMatchObject({ ok: true });
        clock.pass_s(3600);
        expect(await signIn.byBadge("B000002")).toMatchObject({ ok: true });
      }
      await wrongBadges(signIn, 2);
      clock.pass_s(3599);
      expect(await wrongBadges(signIn, 1)).toMatchObject([{ lockedUntil_ms: clock.now_ms + 30_000 }]);
    });

    it("lets hardly more than a hundred be tried in a day, as of a name's PINs", async () => {
      const { signIn, clock } = await desk();
      const end_ms = clock.now_ms + 86_400_000;
      let tried = 0;
      while (clock.now_ms < end_ms) {
        const [answer] = await wrongBadges(signIn, 1);
        tried++;
        if (answer?.ok === false && answer.lockedUntil_ms) clock.now_ms = answer.lockedUntil_ms;
      }
      expect(tried).toBe(102);
    });
  });

  it("locks unknown names just as known ones, and keeps nowhere what was typed", async () => {
    const { signIn, triesPath } = await desk();
    const unknown: SignInAnswer[] = [];
    for (let i = 0; i < 3; i++) unknown.push(await signIn.byPin("583920", "0000"));
    expect(unknown).toEqual(await wrong(signIn, 3));
    expect(readFileSync(triesPath, "utf8")).not.toContain("583920");
  });

  it("counts tries made at once one by one", async () => {
    const { signIn, open } = await desk();
    const answers = await Promise.all(
      Array.from({ length: 12 }, (_, i) => (i % 2 ? signIn : open()).byPin("A. Marsh", "0000")),
    );
    expect(answers.filter((answer) => !answer.ok && answer.lockedUntil_ms === null)).toHaveLength(2);
  });

  it("neither ends early nor lasts for months when the clock is set", async () => {
    const { signIn, clock } = await desk();
    await wrong(signIn, 3);
    clock.pass_s(-86_400);
    expect(await signIn.byPin("A. Marsh", "4862")).toMatchObject({
      ok: false,
      lockedUntil_ms: clock.now_ms + 30_000,
    });
    clock.pass_s(30);
    expect(await signIn.byPin("A. Marsh", "4862")).toMatchObject({ ok: true });
  });

  it("lets nobody sign in where wrong tries can't be read", async () => {
    const { signIn, triesPath } = await desk();
    await wrong(signIn, 1);
    writeFileSync(triesPath, "{");
    expect(await signIn.byPin("A. Marsh", "4862")).toMatchObject({
      ok: false,
      sentence: expect.stringMatching(/^Nobody can sign in: .*people\.tries\.json is broken .* taken away/),
    });
  });

  it("holds for any run of right and wrong tries: never more than three wrong ones looked at without a pause", async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.record({ right: fc.boolean(), after_s: fc.nat({ max: 1200 }) }), { maxLength: 25 }),
        async (tries) => {
          const { open, clock, path } = await desk();
          let inRow = 0;
          let until_ms = 0;
          for (const { right, after_s } of tries) {
            clock.pass_s(after_s);
            const isLocked = clock.now_ms < until_ms;
            const answer = await open().byPin("a. marsh", right ? "4862" : "1111");
            expect(answer.ok).toBe(right && !isLocked);
            if (isLocked) continue;
            inRow = right ? 0 : inRow + 1;
            until_ms = inRow < 3 ? 0 : clock.now_ms + Math.min(900, 30 * 2 ** (inRow - 3)) * 1000;
            if (!answer.ok) expect(answer.lockedUntil_ms).toBe(until_ms || null);
          }
          rmSync(path, { force: true });
        },
      ),
      { numRuns: 15 },
    );
  });
});

describe("a people file that can't be used", () => {
  it("is told in a sentence that says how to begin where there is none", async () => {
    const { signIn, path } = await desk();
    expect(await signIn.problem()).toBeNull();
    rmSync(path);
    expect(await signIn.problem()).toMatch(
      /there is no people file .*people\.json\. Begin with drumtight people add/,
    );
    expect(await signIn.byPin("A. Marsh", "4862")).toMatchObject({ ok: false });
    expect(await signIn.byBadge("B000002")).toMatchObject({ ok: false });
  });

  it("is told with its place where it is broken", async () => {
    const { signIn, path } = await desk();
    const text = readFileSync(path, "utf8");
    writeFileSync(path, text.replace('"inspector"', '"boss"'));
    expect(await signIn.problem()).toMatch(
      /people\.json is broken \(people\.json:\d+:\d+: people\[1\]\.role/,
    );
    writeFileSync(path, text.slice(0, 300));
    expect(await signIn.problem()).toMatch(
      /is broken \(it is no whole JSON file\). Nobody can sign in until/,
    );
  });

  it("is told where wrong tries could not be kept beside it", async () => {
    const { signIn, path } = await desk();
    await signIn.byPin("A. Marsh", "0000");
    const view = readOnlyView(dirname(path));
    const there = new SignIn({
      settings: { path: join(view, "people.json"), badge: /^B[0-9]{6}$/u },
      clock: new Wall(),
    });
    const words =
      /^Nobody can sign in: .*people\.tries\.json could not be written: give this user write access/;
    expect(await there.problem()).toMatch(words);
    expect(await there.byPin("A. Marsh", "4862")).toMatchObject({
      ok: false,
      sentence: expect.stringMatching(words),
    });
  });

  it("is for its owner's eyes only, and so are the tries", async () => {
    const { signIn, path, triesPath } = await desk();
    await signIn.byPin("A. Marsh", "0000");
    for (const file of [path, triesPath]) expect((statSync(file).mode & 0o777).toString(8)).toBe("600");
  });
});
