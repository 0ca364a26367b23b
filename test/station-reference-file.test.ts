import { describe, expect, it, test } from "vitest";
import { readStationFile } from "../station/station-file.ts";
import { changed, demo, GOOD, lineOf, problemsIn } from "./made-station-file.ts";

const CHECK = demo.slice(demo.indexOf("reference_check:"), demo.indexOf("# Who may approve"));
const read = (text: string) => readStationFile("/hall/station.yaml", text);

describe("a station file's reference check", () => {
  it("says when the station is proven, by what, and what stops it", () => {
    const { shifts, stopAfterSameFails, referenceCheck } = read(
      changed(demo, ["every: 8 h", "every: 8 h\n  every_units: 400"]),
    );
    expect(shifts).toEqual(["06:00", "14:00", "22:00"]);
    expect(stopAfterSameFails).toBe(6);
    expect(referenceCheck).toMatchObject({
      every_s: 28_800,
      everyUnits: 400,
      atShiftStart: true,
      afterFault: true,
    });
    expect(referenceCheck?.pieces.find(({ serial }) => serial === "REF-ORIFICE-TUB-12")).toEqual({
      serial: "REF-ORIFICE-TUB-12",
      kind: "orifice",
      model: "TUB-12",
      certified_m3_s: expect.closeTo(0.03428, 9),
      tolerance_m3_s: expect.closeTo(0.0008, 9),
      unit: "L/s",
      orifice: { point: "open", atSuction_Pa: 10_000 },
    });
  });

  it("comes after a fault unless told otherwise, and at no shift's start unless told so", () => {
    const silent = changed(
      demo,
      [/ {2}after_fault.*\n/.exec(demo)?.[0] ?? "?", ""],
      ["  at_shift_start: true\n", ""],
    );
    expect(read(silent).referenceCheck).toMatchObject({
      afterFault: true,
      atShiftStart: false,
      everyUnits: null,
    });
    expect(read(changed(demo, ["after_fault: true", "after_fault: false"])).referenceCheck?.afterFault).toBe(
      false,
    );
  });

  it("may be left out, shifts and the stop after like failures with it", () => {
    const bare = changed(
      demo,
      [CHECK, "reference_check: off\n"],
      [/shifts:.*\n/.exec(demo)?.[0] ?? "?", ""],
      [/stop_after.*\n/.exec(demo)?.[0] ?? "?", ""],
    );
    expect(read(bare)).toMatchObject({ referenceCheck: null, shifts: [], stopAfterSameFails: null });
  });

  test.each([
    [
      "shifts that are no times of day",
      '"14:00"',
      '"25:00"',
      "shifts[1]",
      /a local time in quotes, like "06:00"/,
    ],
    ["shifts out of order", '"14:00"', '"05:00"', "shifts[1]", /after 06:00/],
    ["a shift twice", '"14:00"', '"06:00"', "shifts[1]", /each once/],
    [
      "like failures that stop at the first",
      "stop_after_same_fails: 6",
      "stop_after_same_fails: 1",
      "stop_after_same_fails",
      /a whole number, at least 2 and at most 50/,
    ],
    [
      "no units between checks",
      "every: 8 h",
      "every: 8 h\n  every_units: 0",
      "reference_check.every_units",
      /at least 1/,
    ],
    [
      "a wish that is no yes or no",
      "after_fault: true",
      "after_fault: 3 h",
      "reference_check.after_fault",
      /.*/,
    ],
    [
      "an orifice certified as a leak",
      "certified: 20.36 L/s",
      "certified: 20.36 mL/min @ 20 degC",
      "reference_check.pieces[2].certified",
      /flow/,
    ],
    [
      "a leak certified as a flow",
      "certified: 12.5 mL/min @ 20 degC",
      "certified: 12.5 L/s",
      "reference_check.pieces[1].certified",
      /leak rate/,
    ],
    [
      "an orifice at no suction",
      "at_suction: 7 kPa",
      "at_suction: 0 kPa",
      "reference_check.pieces[2].at_suction",
      /more than 0 Pa/,
    ],
    [
      "a tolerance in which an orifice may be shut",
      "tolerance: 0.5 L/s",
      "tolerance: 21 L/s",
      "reference_check.pieces[2].tolerance",
      /less than the certified value/,
    ],
    [
      "a tolerance in which a leak may be none",
      "tolerance: 2.5 mL/min @ 20 degC",
      "tolerance: 12.5 mL/min @ 20 degC",
      "reference_check.pieces[1].tolerance",
      /a reading of nothing would do/,
    ],
    [
      "a point that the model does not have",
      "point: open",
      "point: wide",
      "reference_check.pieces[2].point",
      /a point of POD-4's airflow step whose orifice lets air in: working, open/,
    ],
    [
      "the closed point, where nothing flows",
      "point: open",
      "point: closed",
      "reference_check.pieces[2].point",
      /whose orifice lets air in: working, open/,
    ],
    [
      "an orifice piece of no model",
      "serial: REF-ORIFICE-POD-4,\n        kind: orifice,\n        model: POD-4",
      "serial: REF-ORIFICE-POD-4,\n        kind: orifice,\n        model: POD-44",
      "reference_check.pieces[2].model",
      /whose limit file has an airflow step: POD-4, TUB-12.*did you mean POD-4/,
    ],
  ])("with %s is refused at the place", (_what, from, to, path, words) => {
    const text = changed(GOOD, [from, to]);
    const [problem, ...others] = problemsIn(text);
    expect(others).toEqual([]);
    expect(problem).toMatchObject({ path, line: lineOf(text, to) + (to.split("\n").length - 1) });
    expect(`${problem?.expected} ${problem?.hint}`).toMatch(words);
  });

  it("can't begin a shift where no shift begins", () => {
    const text = changed(GOOD, [/shifts:.*\n/.exec(GOOD)?.[0] ?? "?", ""]);
    expect(problemsIn(text)).toMatchObject([
      { path: "reference_check.at_shift_start", line: lineOf(text, "at_shift_start") },
    ]);
  });

  it("is refused with an orifice piece where flow is calculated from the station's own orifices: it would prove nothing", () => {
    const text = changed(
      GOOD,
      ["flow_from: gauge", "flow_from: plenum_orifices"],
      [/ {6}flow: \{.*\n/.exec(GOOD)?.[0] ?? "?", ""],
    );
    const problems = problemsIn(text);
    expect(problems.map(({ path }) => path)).toEqual([
      "reference_check.pieces[2].kind",
      "reference_check.pieces[5].kind",
    ]);
    expect(problems[0]?.expected).toMatch(/would prove nothing/);
  });

  it("does not prove a leak rate by an orifice alone", () => {
    const leaks = / {4}- \{\s*serial: REF-(TIGHT|LEAK)-POD-4[^}]*\}\n/g;
    const [problem, ...others] = problemsIn(GOOD.replaceAll(leaks, ""));
    expect(others).toEqual([]);
    expect(problem?.path).toBe("reference_check.pieces");
    expect(problem?.found).toMatch(/none of kind tight or leak for POD-4/);
  });
});
