import { readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { YIELD_FORMATS } from "../../station/commands/yield-formats.ts";
import { askedAtOneMoment, type IndexMoment } from "../../station/records/index-moment.ts";
import { yieldAt } from "../../station/yield-data/collect-yield.ts";
import { collectAnswer, type YieldAnswer } from "../../station/yield-page/collect-answer.ts";
import { collectYieldDetail } from "../../station/yield-page/collect-yield-detail.ts";
import { check, decision, test as tested } from "../records/held-units.ts";
import { close, open } from "../records/running-store.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { settleIndex } from "../records/settled-index.ts";
import { randomLine } from "../yield-data/random-line.ts";

const ALL_DAYS = {
  ...{ from: null, to: null, by: ["model" as const], shifts: [] },
  now_ms: Date.parse("2026-12-01T00:00:00Z"),
};
const ALL_TOLD = { warnings: true, detail: true };

/** The counts and, after something has happened, the details of one moment. */
async function partsAround(folder: string, happens: () => Promise<unknown>, moment: IndexMoment) {
  const { report, newest, decisions } = await yieldAt({ folder, ...ALL_DAYS }, moment);
  await happens();
  const everything = { from_ms: null, to_ms: null, model: null, station: null };
  const detail = await collectYieldDetail(
    { folder, ...everything, broken: report.source.broken, newest, decisions },
    moment.database,
  );
  return { tests: report.total.tests, failures: detail.failures.map(({ serial }) => serial) };
}

describe("counts and details of a page", () => {
  it.each(["with its index", "without one"])(
    "are of one moment, while a station goes on testing, %s",
    async (how) => {
      const folder = scratchFolder();
      const { store } = await open(folder);
      await tested(store, "A1", "pass");
      await tested(store, "A2", "fail");
      const asked = (happens: () => Promise<unknown>) =>
        how === "without one"
          ? partsAround(folder, happens, { database: undefined, isSpoilt: false })
          : askedAtOneMoment(folder, (moment) => partsAround(folder, happens, moment));
      expect(await asked(() => tested(store, "A3", "fail"))).toEqual({ tests: 2, failures: ["A2"] });
      expect(await asked(async () => undefined)).toEqual({ tests: 3, failures: ["A2", "A3"] });
    },
  );

  it.each(["with its index", "without one"])(
    "leave out alike what a failed check has put in doubt while its hold is not written yet, %s",
    async (how) => {
      const folder = scratchFolder();
      const { store } = await open(folder);
      await tested(store, "A1", "fail");
      await check(store, "pass");
      await tested(store, "A2", "pass");
      await tested(store, "A3", "fail");
      await check(store, "fail");
      await close(store);
      if (how === "without one") rmSync(join(folder, ".index.db"));
      const { report, detail } = await collectAnswer({ folder, ...ALL_DAYS }, ALL_TOLD);
      expect(report.total.inspected).toBe(1);
      expect(report.heldUnits.map(({ serial }) => serial).sort()).toEqual(["A2", "A3"]);
      expect(detail?.failures.map(({ serial }) => serial)).toEqual(["A1"]);
      expect(detail?.measured.flatMap(({ serials }) => serials)).toEqual(["A1"]);
      expect(detail?.notes).toEqual([
        "2 tests that reference checks have put in doubt are in no chart and no list here.",
      ]);
    },
  );

  it("are asked for once more where a station started, tested and ended between the two", async () => {
    const folder = scratchFolder();
    await close((await open(folder)).store);
    settleIndex(folder);
    let times = 0;
    const parts = await askedAtOneMoment(folder, (moment) =>
      partsAround(
        folder,
        async () => {
          if (++times > 1) return;
          const { store } = await open(folder);
          await tested(store, "A1", "fail");
          await close(store);
          settleIndex(folder);
        },
        moment,
      ),
    );
    expect([times, parts]).toEqual([2, { tests: 1, failures: ["A1"] }]);
  });
});

describe("an index whose file is damaged", () => {
  const figures = ({ report: { source, notes: _, warnings: __, ...others }, detail }: YieldAnswer) => ({
    ...others,
    tests: [source.firstTest_at, source.lastTest_at, source.travellersCompared, source.broken],
    detail,
  });

  it("changes no figure of a page, wherever it is damaged, and that is said where it was met", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await randomLine(store, 7, "2026-01-05T05:00:00.000Z", 25);
    await store.dispose(decision("hold", await tested(store, "H1", "fail")));
    await close(store);
    settleIndex(folder);
    const file = join(folder, ".index.db");
    const sound = readFileSync(file);
    const query = { folder, ...ALL_DAYS };
    const expected = figures(await collectAnswer(query, ALL_TOLD));
    const page_bytes = sound.readUInt16BE(16);
    let met = 0;
    for (let at = page_bytes; at < sound.length; at += page_bytes) {
      const damaged = Buffer.from(sound);
      damaged.fill(0xa5, at, at + page_bytes);
      writeFileSync(file, damaged);
      const answer = await collectAnswer(query, ALL_TOLD);
      expect([at, figures(answer)]).toEqual([at, expected]);
      if (answer.report.notes.some((note) => note.includes("index is damaged"))) met++;
    }
    expect(met).toBeGreaterThan(5);
  });

  it("gives in every format what no index gives, and says so", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    for (const serial of ["A1", "A2", "A3"]) await tested(store, serial, serial === "A2" ? "fail" : "pass");
    await close(store);
    settleIndex(folder);
    const file = join(folder, ".index.db");
    const damaged = readFileSync(file).fill(0xa5, 2 * 4096);
    for (const [name, { write, tells }] of Object.entries(YIELD_FORMATS)) {
      const { warnings = false, detail = false } = tells ?? {};
      const told = async () => collectAnswer({ folder, ...ALL_DAYS }, { warnings, detail });
      rmSync(file, { force: true });
      const byFiles = await told();
      writeFileSync(file, damaged);
      const answer = await told();
      const notes = [expect.stringContaining("index is damaged"), ...byFiles.report.notes];
      expect([name, answer]).toEqual([name, { ...byFiles, report: { ...byFiles.report, notes } }]);
      expect((await write(answer, { file: undefined })).length).toBeGreaterThan(100);
    }
  });
});
