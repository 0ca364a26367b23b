import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { scratchFolder } from "../records/scratch-folder.ts";
import { drumtight, type Event, events } from "./command-line.ts";

const LINE = ["run", "--simulate", "--seed", "1", "--model", "POD-4", "--units", "105", "--json"];
const FROM = 91;
const DRIFT = `suction -3 sd from unit ${FROM} of tub_cavity=P2 with gasket_lot=G2420`;
const UTC = { TZ: "UTC" };

const warningsOf = (stdout: string) => events(stdout).filter(({ event }) => event === "early_warning");
const ofSuction = (all: readonly Event[]) =>
  all.find(({ characteristic }) => characteristic === "sealed suction");

describe("a line whose motors pull less from one unit on, in one cavity, with a new lot", () => {
  it("is told of so by early warning, and by that day's yield as page and JSON; without the drift nothing is told", async () => {
    const records = join(scratchFolder(), "records");
    const [drifting, quiet] = await Promise.all([
      drumtight([...LINE, "--drift", DRIFT, "--records", records], "", UTC),
      drumtight([...LINE, "--records", join(scratchFolder(), "records")], "", UTC),
    ]);
    expect(warningsOf(quiet.stdout)).toEqual([]);
    const units = events(drifting.stdout).filter(({ event }) => event === "unit");
    expect(units).toHaveLength(105);
    const told = warningsOf(drifting.stdout);
    expect(ofSuction(told)).toMatchObject({
      ...{ model: "POD-4", direction: "falls", cavity: { part: "tub_cavity", value: "P2" } },
      changed: [{ what: "gasket_lot", to: "G2420" }],
    });
    // Whatever else is told is the same cause: other airflow values of the same cavity.
    for (const it of told) expect(it).toMatchObject({ direction: "falls", cavity: { value: "P2" } });
    const { first } = ofSuction(told) as unknown as { first: { serial: string } };
    const place = units.findIndex(({ serial }) => serial === first.serial);
    expect(Math.abs(place + 1 - FROM)).toBeLessThanOrEqual(8);

    const asked = ["yield", "--day", "2026-01-05", "--records", records, "--time-zone", "UTC"];
    const page = join(records, "..", "day.html");
    const [json, html] = await Promise.all([
      drumtight([...asked, "--format", "json"]),
      drumtight([...asked, "--format", "html", "--out", page]),
    ]);
    expect([json.code, html.code]).toEqual([0, 0]);
    const reported = JSON.parse(json.stdout).warnings as Event[];
    expect(ofSuction(reported)).toMatchObject({ direction: "falls", cavity: { value: "P2" }, first });
    expect(readFileSync(page, "utf8")).toContain(
      `Sealed suction of POD-4, tub cavity P2, falls since ${first.serial}`,
    );
  });

  it.each([
    { args: ["--simulate", "--drift", "leak rate up"], says: '"leak rate up" is not how a drift is written' },
    {
      args: ["--simulate", "--drift", "suction -1 sd from unit 5 of tub_cavity=P9"],
      says: "No unit on this line has tub_cavity=P9",
    },
    {
      args: ["--station", "sim/demo-station.yaml", "--drift", DRIFT],
      says: "Only simulated units can be made to drift",
    },
  ])(
    "and a drift that can't be planted is refused in one sentence, exit code 2: $says",
    async ({ args, says }) => {
      const { code, stdout, stderr } = await drumtight(["run", ...args, "--units", "1"]);
      expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
      expect(stderr).toContain(says);
      expect(stderr.trim().split("\n")).toHaveLength(1);
    },
  );
});
