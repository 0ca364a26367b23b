import { describe, expect, it } from "vitest";
import { agreement } from "../../station/quality/measurement-system/agreement.ts";
import { agreementReport } from "../../station/quality/measurement-system/agreement-report.ts";
import { fleissKappa } from "../../station/quality/measurement-system/kappa.ts";
import { ratedUnits } from "../../station/quality/measurement-system/rated-units.ts";
import { ratingsFrom } from "../quality/measurement-system/ratings-from.ts";

describe("kappa", () => {
  // AIAG, Measurement Systems Analysis, 4th ed., chapter III C (tables from memory): published 0.86, 0.78, 0.79, 0.88. The last
  // is a textbook table. More digits: statsmodels' cohens_kappa.
  it.each([
    {
      of: "AIAG's A x B",
      table: [
        [44, 6],
        [3, 97],
      ],
      po: 0.94,
      pe: 0.5622222222,
      kappa: 0.8629441624,
    },
    {
      of: "AIAG's A x C",
      table: [
        [43, 7],
        [8, 92],
      ],
      po: 0.9,
      pe: 0.5533333333,
      kappa: 0.776119403,
    },
    {
      of: "AIAG's B x C",
      table: [
        [42, 5],
        [9, 94],
      ],
      po: 0.9066666667,
      pe: 0.5597333333,
      kappa: 0.7880072683,
    },
    {
      of: "AIAG's A x reference",
      table: [
        [45, 5],
        [3, 97],
      ],
      po: 0.9466666667,
      pe: 0.56,
      kappa: 0.8787878788,
    },
    {
      of: "a textbook table",
      table: [
        [20, 5],
        [10, 15],
      ],
      po: 0.7,
      pe: 0.5,
      kappa: 0.4,
    },
  ])("of $of is the published one", ({ table, po, pe, kappa }) => {
    const rated = ratedUnits(ratingsFrom(table));
    const { figures } = agreementReport(rated, agreement(rated));
    expect(figures.po).toBeCloseTo(po, 9);
    expect(figures.pe).toBeCloseTo(pe, 9);
    expect(figures.kappa).toBeCloseTo(kappa, 9);
  });

  // AIAG, Measurement Systems Analysis, 4th ed., from memory: A misses 6.3 % and gives 4.9 % false alarms.
  it("goes with AIAG's miss and false alarm rates of A", () => {
    const readings = ratingsFrom([
      [45, 5],
      [3, 97],
    ]);
    const rated = ratedUnits(
      readings.flatMap((rating, k) =>
        rating.appraiser === "A" ? [{ ...rating, reference: readings[k + 1]?.rating }] : [],
      ),
    );
    const [a] = agreement(rated).against;
    expect(a?.miss).toEqual({ count: 3, of: 48, rate: 0.0625 });
    expect(a?.falseAlarm?.rate).toBeCloseTo(0.049, 3);
  });

  // Fleiss' kappa as worked in the encyclopedia article of that name (from memory): P 0.378, Pe 0.213, kappa 0.210.
  it("of 14 raters and 10 subjects in five categories is the published one", () => {
    const { po, pe, kappa } = fleissKappa([
      [0, 0, 0, 0, 14],
      [0, 2, 6, 4, 2],
      [0, 0, 3, 5, 6],
      [0, 3, 9, 2, 0],
      [2, 2, 8, 1, 1],
      [7, 7, 0, 0, 0],
      [3, 2, 6, 3, 0],
      [2, 5, 3, 2, 2],
      [6, 5, 2, 1, 0],
      [0, 2, 2, 3, 7],
    ]);
    expect([po.toFixed(3), pe.toFixed(3), kappa?.toFixed(3)]).toEqual(["0.378", "0.213", "0.210"]);
  });

  // Fleiss, Psychological Bulletin 76 (1971) 378-382: 30 patients, 6 psychiatrists, 5 diagnoses. Data: a public transcription of
  // the table; kappas as printed there and by R's irr (from memory): 0.430 in all, and of each diagnosis 0.245 0.245 0.520 0.471 0.566.
  it("of 30 patients by six psychiatrists is the published one, in all and by diagnosis", () => {
    const patients = `444444 222555 233335 555555 222444 113333 333355 113334 114444 555555 144444 124444 222333 144444 224445
      333335 111455 111112 224444 133555 555555 244444 224555 114444 144445 222224 111155 224444 133333 555555`;
    const ratings = patients.split(/\s+/).flatMap((patient, unit) =>
      [...patient].map((rating, k) => ({
        unit: String(unit),
        appraiser: "ABCDEF"[k] ?? "",
        trial: "1",
        rating,
      })),
    );
    const rated = ratedUnits(ratings);
    const overall = agreement(rated).between?.overall;
    expect(overall?.units).toBe(30);
    expect(overall?.kappa?.toFixed(3)).toBe("0.430");
    expect(overall?.byCategory.map(({ kappa }) => kappa?.toFixed(3))).toEqual([
      "0.245",
      "0.245",
      "0.520",
      "0.471",
      "0.566",
    ]);
    const { figures, tables } = agreementReport(rated, agreement(rated));
    expect((figures.between as { fleiss: { by_category: unknown[] } }).fleiss.by_category).toMatchObject([
      { category: "1" },
      { category: "2" },
      { category: "3" },
      { category: "4" },
      { category: "5", kappa: overall?.byCategory[4]?.kappa },
    ]);
    expect(tables.filter(({ caption }) => caption.startsWith("Kappa of"))).toHaveLength(5);
  });
});
