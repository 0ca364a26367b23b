import { describe, expect, it } from "vitest";
import type { NewPerson } from "../../station/people/edit-people.ts";
import { whatToDo } from "../../station/screen/sentences.ts";
import { INSPECTOR, peopleAt, SUPERVISOR } from "../people/people-at.ts";
import { travellersIn } from "../records/scratch-folder.ts";
import { type Bench, deskOf, hasVerdict, isArmed } from "./desk-bench.ts";

const withPeople = async (idle: string, ...others: readonly NewPerson[]) => {
  const people = await peopleAt(INSPECTOR, ...others);
  return (text: string) =>
    text.replace('sign_in: "off"', `sign_in: { people: ${people}, badge: "^B[0-9]{6}$", idle: ${idle} }`);
};
const badgeOf = ({ badge }: { readonly badge?: string | null }) => badge ?? "";

/** Where somebody is asked who they are. */
async function deskWithPeople(idle = "10 min"): Promise<Bench> {
  const bench = await deskOf({ also: await withPeople(idle) });
  bench.press("enter");
  return bench;
}

const isAtWork = (name: string) => (state: Bench["desk"]["state"]) =>
  state.who.name === name && state.page === "work";

describe("people at the desk", () => {
  it("sign in by badge, whose text is nowhere on the screen, and every traveller carries who", async () => {
    const bench = await deskWithPeople();
    expect(bench.desk.state).toMatchObject({ page: "sign_in", signIn: { asks: "badge_or_name" } });
    const seen: string[] = [];
    bench.desk.watch(() => seen.push(JSON.stringify(bench.desk.state)));
    bench.press(...badgeOf(INSPECTOR), "enter");
    expect(bench.desk.state.signIn.isBusy).toBe(true);
    const there = await bench.until(isAtWork("A. Marsh"));
    expect(there.who).toEqual({ name: "A. Marsh", role: "inspector", how: "badge" });
    expect(seen.join("")).not.toContain(badgeOf(INSPECTOR));
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("enter");
    await bench.until(hasVerdict);
    expect((await travellersIn(bench.folder))[0]?.who).toMatchObject({
      inspector: "A. Marsh",
      sign_in: "badge",
    });
  });

  it("sign in by name and PIN; a wrong one is told, and the PIN is nowhere on the screen", async () => {
    const bench = await deskWithPeople();
    const seen: string[] = [];
    bench.desk.watch(() => seen.push(JSON.stringify(bench.desk.state)));
    bench.press("a. marsh", "enter", ..."9062", "enter");
    const refused = await bench.until(({ signIn }) => signIn.said !== null);
    expect(refused).toMatchObject({ page: "sign_in", who: { name: null }, signIn: { asks: "pin" } });
    bench.press(...INSPECTOR.pin, "enter", ...INSPECTOR.pin);
    expect((await bench.until(isAtWork("A. Marsh"))).typed).toBe("");
    expect(seen.join("")).not.toContain(INSPECTOR.pin);
    expect(seen.join("")).not.toContain("9062");
  });

  it("are locked out after wrong tries, for as long as the screen counts", async () => {
    const bench = await deskWithPeople();
    bench.press("A. Marsh", "enter");
    for (let wrong = 0; bench.desk.state.signIn.lockedUntil_ms === null; wrong++) {
      expect(wrong).toBeLessThan(20);
      bench.press("9062", "enter");
      await bench.until(({ signIn }) => !signIn.isBusy);
    }
    const { signIn, observed } = bench.desk.state;
    expect(signIn.lockedUntil_ms).toBeGreaterThan(observed.now_ms);
    await bench.pass_s(((signIn.lockedUntil_ms ?? 0) - observed.now_ms) / 1000 + 1);
    bench.press(INSPECTOR.pin, "enter");
    await bench.until(isAtWork("A. Marsh"));
  });

  it("do not get in by the label of a unit, which is told and not counted", async () => {
    const bench = await deskWithPeople();
    bench.press("POD531811", "enter");
    expect(bench.desk.state.signIn.said).toContain("POD531811 came before signing in");
    bench.press("A. Marsh", "enter", "POD531811", "enter");
    expect(bench.desk.state.signIn).toMatchObject({ asks: "pin", isBusy: false });
  });

  it("sign out by a key, see the shift's summary, and the next one signs in from there", async () => {
    const bench = await deskWithPeople();
    bench.press(badgeOf(INSPECTOR), "enter");
    await bench.until(isAtWork("A. Marsh"));
    bench.press("P2", "enter");
    await bench.pass_s(10);
    bench.press("o", "enter");
    const out = await bench.until(({ page, summaryLines }) => page === "summary" && summaryLines !== null);
    expect(out).toMatchObject({ who: { name: null }, machine: "signedOut", waitingParts: {} });
    expect(out.summaryLines?.join("\n")).toContain("A. Marsh");
    bench.press(badgeOf(SUPERVISOR), "enter");
    await bench.until(isAtWork("B. Imani"));
  });

  it("take over by their own badge, at work, and see what the shift has come to", async () => {
    const bench = await deskWithPeople();
    bench.press(badgeOf(INSPECTOR), "enter");
    await bench.until(isAtWork("A. Marsh"));
    bench.press(badgeOf(SUPERVISOR), "enter");
    const over = await bench.until(({ overlay }) => overlay === "summary");
    expect(over).toMatchObject({ page: "work", who: { name: "B. Imani" } });
    bench.press(badgeOf(SUPERVISOR), "enter");
    await bench.until(({ signIn }) => !signIn.isBusy);
    expect(bench.desk.state.who.name).toBe("B. Imani");
  });

  it("are signed out when nobody has touched anything for so long, and a half typed PIN goes with them", async () => {
    const bench = await deskWithPeople("20 s");
    bench.press(badgeOf(INSPECTOR), "enter");
    await bench.until(isAtWork("A. Marsh"));
    await bench.pass_s(19);
    bench.press("x");
    await bench.pass_s(19);
    expect(bench.desk.state).toMatchObject({ page: "work", typed: "x" });
    await bench.pass_s(2);
    const out = await bench.until(({ page }) => page === "summary");
    expect(out).toMatchObject({ who: { name: null }, typed: "" });
    bench.press("enter", "A. Marsh", "enter", "48");
    await bench.pass_s(21);
    expect(bench.desk.state).toMatchObject({ page: "sign_in", signIn: { asks: "badge_or_name" }, typed: "" });
  });

  it("are not signed out while a test runs, however long it takes", async () => {
    const bench = await deskWithPeople("3 s");
    bench.press(badgeOf(INSPECTOR), "enter");
    await bench.until(isAtWork("A. Marsh"));
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("enter");
    const tested = await bench.until(hasVerdict);
    expect(tested).toMatchObject({ who: { name: "A. Marsh" }, result: { verdict: "pass" } });
    await bench.until(({ page }) => page === "summary");
  });

  describe("at a stopped station", () => {
    const ENGINEER: NewPerson = { name: "E. Okoro", role: "engineer", pin: "73519", badge: "B000003" };

    /** A. Marsh's test has broken off because the gauge fell silent; it talks again. */
    async function stopped(): Promise<Bench> {
      const bench = await deskOf({ also: await withPeople("60 s", ENGINEER) });
      bench.press("enter", badgeOf(INSPECTOR), "enter");
      await bench.until(isAtWork("A. Marsh"));
      bench.press("enter");
      await bench.until(isArmed);
      bench.press("enter");
      await bench.until(({ machine }) => machine === "testing");
      bench.press("sim bad-day leak_gauge silent", "enter");
      await bench.until(({ machine }) => machine === "faulted");
      bench.press("sim bad-day leak_gauge none", "enter");
      return bench;
    }

    it("are signed out at idle too: the stop stays, and nobody may acknowledge it in their name", async () => {
      const bench = await stopped();
      bench.press(badgeOf(ENGINEER), "enter");
      await bench.until(isAtWork("E. Okoro"));
      await bench.pass_s(59);
      expect(bench.desk.state.who.name).toBe("E. Okoro");
      await bench.pass_s(2);
      const alone = bench.desk.state;
      expect(alone).toMatchObject({
        page: "work",
        machine: "faulted",
        who: { name: null },
        remark: "E. Okoro was signed out: nothing was done for 1 min.",
      });
      expect(whatToDo(alone)).toContain("sign in (F4), then press Tab");
      bench.press("tab");
      await bench.pass_s(5);
      expect(bench.desk.state.machine).toBe("faulted");
      bench.press(badgeOf(INSPECTOR), "enter");
      await bench.until(isAtWork("A. Marsh"));
      bench.press("tab");
      await bench.until(({ machine }) => machine === "needsReference");
    });

    it("who are asked who takes over, and acknowledge instead, go on at work", async () => {
      const bench = await stopped();
      bench.press("o", "enter");
      expect(bench.desk.state.page).toBe("sign_in");
      bench.press("tab");
      expect(await bench.until(({ machine }) => machine === "needsReference")).toMatchObject({
        page: "work",
        who: { name: "A. Marsh" },
      });
    });

    it("are signed out at idle though the question who takes over has been left open", async () => {
      const bench = await stopped();
      bench.press("o", "enter", "A. Marsh", "enter", "48");
      const seen: string[] = [];
      bench.desk.watch(() => seen.push(bench.desk.state.typed));
      await bench.pass_s(61);
      expect(bench.desk.state).toMatchObject({ machine: "faulted", who: { name: null }, typed: "" });
      expect(seen.join(" ")).not.toContain("48");
      bench.press("escape", "tab");
      await bench.pass_s(5);
      expect(bench.desk.state).toMatchObject({ machine: "faulted", who: { name: null } });
    });
  });

  it("lose no scan that comes while a badge is looked up: the rest of it is not taken for something else", async () => {
    const bench = await deskWithPeople();
    bench.press(badgeOf(INSPECTOR), "enter", "REF-TIGHT");
    await bench.until(isAtWork("A. Marsh"));
    bench.press("-POD-4", "enter");
    expect((await bench.until(isArmed)).unit?.serial).toBe("REF-TIGHT-POD-4");
  });

  it("are told at once when the people file can't be used", async () => {
    const bench = await deskOf({
      also: (text) =>
        text.replace('sign_in: "off"', 'sign_in: { people: nobody.json, badge: "^B[0-9]{6}$" }'),
    });
    await bench.until(({ signIn }) => signIn.said !== null);
    bench.press("enter");
    expect(bench.desk.state).toMatchObject({
      page: "sign_in",
      signIn: { said: expect.stringContaining("nobody.json") },
    });
  });

  it("are asked for their name alone, and believed, where the station file says so", async () => {
    const bench = await deskOf({ also: (text) => text.replace('sign_in: "off"', 'sign_in: "name"') });
    bench.press("enter", "Ines Roth", "enter");
    expect((await bench.until(isAtWork("Ines Roth"))).who.how).toBe("stated");
    bench.press("f4");
    expect((await bench.until(({ page }) => page === "summary")).who.name).toBeNull();
    bench.press("enter");
    expect(whatToDo(bench.desk.state)).toBe("Type your name, then press Enter.");
  });
});
