import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import {
  addPerson,
  changePerson,
  disablePerson,
  enablePerson,
  type NewPerson,
} from "../../station/people/edit-people.ts";
import { type People, peopleFile } from "../../station/people/people-file.ts";
import { nameKey, readName } from "../../station/people/person-name.ts";
import { whyNotPin } from "../../station/people/pin-rule.ts";
import { scratchDisk, scratchFolder } from "../records/scratch-folder.ts";
import { CHEAP, INSPECTOR, peopleAt, SUPERVISOR } from "./people-at.ts";

const AT_ms = Date.parse("2026-01-06T14:00:00Z");
const BY_SUPERVISOR = { by: SUPERVISOR.name, at_ms: AT_ms };
const SECOND: NewPerson = { name: "C. Holm", role: "supervisor", pin: "73510", badge: null };

async function read(path: string): Promise<People> {
  const people = await peopleFile(path).read();
  if (!people) throw new Error("There is no people file.");
  return people;
}

describe("a PIN", () => {
  test.each(["1111", "0000", "1212", "483483", "1234", "8901", "9876543210", "3210", "0123456789"])(
    "%s is too easy",
    (pin) => expect(whyNotPin(pin)).toMatch(/^one that does not/),
  );
  test.each(["123", "1234567890123", "12a4", "", " 4862", "४८६२"])("%j is none", (pin) =>
    expect(whyNotPin(pin)).toBe("4 to 12 digits"),
  );
  test.each(["4862", "1235", "1221", "112233", "2580", "483484"])("%s may be chosen", (pin) =>
    expect(whyNotPin(pin)).toBeNull(),
  );
});

describe("a name", () => {
  it("is the same whatever its case and blanks", () => {
    fc.assert(
      fc.property(fc.string({ minLength: 1, maxLength: 30, unit: "grapheme" }), (text) => {
        const name = readName(text);
        if (name === null) return;
        expect(readName(`  ${name.replaceAll(" ", "   ")}\t`)).toBe(name);
        expect(nameKey(`${name} `)).toBe(nameKey(name));
      }),
    );
    expect(nameKey("A. MARSH")).toBe(nameKey("a. marsh"));
  });

  it.each(["", "  ", "x".repeat(41), "A.\u0007Marsh", "A.\u202eMarsh"])("%j is none", (text) => {
    expect(readName(text)).toBeNull();
  });
});

describe("the people file", () => {
  it("reads back whoever was added, and no PIN or badge stands in it", async () => {
    const person = fc.record({
      name: fc.stringMatching(/^[A-Za-z][A-Za-z. ]{0,20}$/).map((text) => text.replace(/\s+/g, " ").trim()),
      role: fc.constantFrom("inspector", "engineer", "supervisor"),
      pin: fc.stringMatching(/^[0-9]{6,12}$/),
      badge: fc.option(fc.stringMatching(/^B[0-9]{6}$/)),
    });
    const people = fc.uniqueArray(person, { selector: ({ name }) => nameKey(name), maxLength: 8 });
    await fc.assert(
      fc.asyncProperty(people, async (others) => {
        const badges = new Set([SUPERVISOR.badge]);
        const added = others
          .filter(({ name }) => nameKey(name) !== nameKey(SUPERVISOR.name))
          .map((other) => {
            const isFree = other.badge !== null && !badges.has(other.badge);
            badges.add(other.badge);
            return { ...other, badge: isFree ? other.badge : null } as NewPerson;
          });
        const path = await peopleAt(...added);
        expect(
          (await read(path)).people.map(({ name, role, badge }) => [name, role, badge !== null]),
        ).toEqual([SUPERVISOR, ...added].map(({ name, role, badge }) => [name, role, badge !== null]));
        const text = readFileSync(path, "utf8");
        for (const { pin, badge } of [SUPERVISOR, ...added]) {
          expect(text).not.toContain(`"${pin}"`);
          if (badge !== null) expect(text).not.toContain(badge);
        }
      }),
      { numRuns: 30 },
    );
  });

  it("begins with a supervisor and nobody else", async () => {
    await expect(addPerson(null, INSPECTOR, { by: null, at_ms: AT_ms }, CHEAP)).rejects.toThrow(
      /first person must be a supervisor/,
    );
    const people = await read(await peopleAt());
    expect(people.people).toMatchObject([{ name: "B. Imani", added: { by: null }, disabled: null }]);
  });

  it("is changed by supervisors who are not disabled, and by nobody else", async () => {
    const people = await read(await peopleAt(INSPECTOR, SECOND));
    for (const by of [null, "A. Marsh", "D. Unknown"]) {
      expect(() => disablePerson(people, "C. Holm", { by, at_ms: AT_ms })).toThrow(/Only a supervisor/);
    }
    const without = disablePerson(people, "c. holm", BY_SUPERVISOR);
    expect(() => disablePerson(without, "A. Marsh", { by: "C. Holm", at_ms: AT_ms })).toThrow(
      /Only a supervisor/,
    );
    expect(without.people[2]).toMatchObject({
      name: "C. Holm",
      disabled: { by: "B. Imani", at: "2026-01-06T14:00:00.000Z" },
    });
    expect(enablePerson(without, "C. Holm", BY_SUPERVISOR)).toEqual(people);
  });

  it("keeps its last supervisor from being disabled or made something else", async () => {
    const people = await read(await peopleAt(INSPECTOR));
    expect(() => disablePerson(people, "B. Imani", BY_SUPERVISOR)).toThrow(/last supervisor/);
    await expect(
      changePerson(people, "B. Imani", { role: "engineer" }, BY_SUPERVISOR, CHEAP),
    ).rejects.toThrow(/last supervisor/);
  });

  it("has each name and each badge once", async () => {
    const people = await read(await peopleAt(INSPECTOR));
    const add = (person: NewPerson) => addPerson(people, person, BY_SUPERVISOR, CHEAP);
    await expect(add({ ...SECOND, name: "a. marsh" })).rejects.toThrow(/There is a A. Marsh already/);
    await expect(add({ ...SECOND, badge: "B000002" })).rejects.toThrow(/That badge is A. Marsh's/);
    const taken = await changePerson(people, "A. Marsh", { badge: null }, BY_SUPERVISOR, CHEAP);
    await expect(
      addPerson(taken, { ...SECOND, badge: "B000002" }, BY_SUPERVISOR, CHEAP),
    ).resolves.toMatchObject({ people: [{}, { badge: null }, { name: "C. Holm" }] });
  });

  it("loses nobody when many add at once", async () => {
    const path = await peopleAt();
    const names = Array.from({ length: 20 }, (_, i) => `Person ${i}`);
    await Promise.all(
      names.map((name) =>
        peopleFile(path).edit((now) =>
          addPerson(now, { name, role: "inspector", pin: "4862", badge: null }, BY_SUPERVISOR, CHEAP),
        ),
      ),
    );
    expect(new Set((await read(path)).people.map(({ name }) => name))).toEqual(
      new Set(["B. Imani", ...names]),
    );
  });

  it("stays as it was when the disk is full", async () => {
    const path = join(scratchDisk(64), "people.json");
    await peopleFile(path).edit((now) => addPerson(now, SUPERVISOR, { by: null, at_ms: AT_ms }, CHEAP));
    const before = readFileSync(path, "utf8");
    try {
      for (let i = 0; ; i++) writeFileSync(join(path, "..", `filler-${i}`), Buffer.alloc(4096));
    } catch {
      // Full.
    }
    await expect(
      peopleFile(path).edit((now) => addPerson(now, INSPECTOR, BY_SUPERVISOR, CHEAP)),
    ).rejects.toThrow(/people\.json could not be written: the disk is full\. Free some space/);
    expect(readFileSync(path, "utf8")).toBe(before);
  });

  it("says where its folder is missing", async () => {
    const path = join(scratchFolder(), "gone", "people.json");
    await expect(
      peopleFile(path).edit((now) => addPerson(now, SUPERVISOR, { by: null, at_ms: AT_ms }, CHEAP)),
    ).rejects.toThrow(/its folder is not there/);
  });

  it.each([
    [/"B. Imani"/, '"A. Marsh"', /each name once/],
    [/"N": 2/, '"N": 3', /a power of two/],
    [/"hash": "[^"]*"/, '"hash": "B000001"', /32 bytes in base64/],
    [/people\/1/, "people/2", /people\/1/],
  ])("is refused with %s for %s", async (found, instead, words) => {
    const path = await peopleAt(INSPECTOR);
    writeFileSync(path, readFileSync(path, "utf8").replace(found, instead));
    await expect(peopleFile(path).read()).rejects.toThrow(words);
  });
});
