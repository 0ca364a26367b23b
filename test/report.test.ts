import { describe, expect, it } from "vitest";
import { refusedBecause } from "../station/cycle/station-reasons.ts";
import type { Traveller } from "../station/records/traveller.ts";
import { EventReporter, LineReporter, Tally } from "../station/report.ts";
import { bodyCurve, LEARNED, madeTraveller, podWith } from "./made-traveller.ts";
import { airflow, facts, outcome, SUSPECTS } from "./records/example-attempt.ts";
import { attempt } from "./screen/example-state.ts";

const LOOKS = { settle_s: 0.3, measureLongest_s: 12, method: { kind: "fitted" } } as const;
const EARLY = { measureShortest_s: 2, lookEvery_s: 0.25, falseAccept: 5e-4, falseReject: 5e-4 };

/** What a run tells of a body with hardly any leak. */
function told(earlyVerdict: typeof EARLY | null) {
  const limits = podWith({ ...LOOKS, earlyVerdict });
  const traveller = madeTraveller({ limits, calibration: LEARNED, curve: bodyCurve(2) });
  const finished = { attempt, traveller, path: "records/1.json", seconds: 20 };
  let [line, event] = ["", ""];
  new LineReporter((text) => {
    line += text;
  }).unit(finished);
  new EventReporter((text) => {
    event += text;
  }).unit(finished);
  const { characteristics } = JSON.parse(event) as { characteristics: Record<string, unknown>[] };
  return { line, leak: characteristics[0], how: traveller.characteristics[0]?.how };
}

describe("a verdict that was certain before the end", () => {
  it("is told as such, with the time it took, to people and to programs", () => {
    const { line, leak, how } = told(EARLY);
    expect(how?.looks?.early).toBe(true);
    const after_s = how?.to_s ?? 0;
    expect(line).toContain(`(<= 25, sure after ${after_s.toFixed(1)} s) mL/min`);
    expect(leak).toMatchObject({ decided_early: { after_fill_s: after_s, look: how?.looks?.taken } });
  });

  it("is not told of one measured to the end", () => {
    const { line, leak } = told(null);
    expect(line).toContain("(<= 25) mL/min");
    expect(leak).not.toHaveProperty("decided_early");
  });
});

type Characteristic = Traveller["characteristics"][number];

function judged(
  name: string,
  measurand: Characteristic["measurand"],
  value: number | null,
  verdict: Characteristic["verdict"],
): Characteristic {
  const [leak] = outcome().characteristics;
  if (!leak) throw new Error("the example has a characteristic");
  const { upper: _, ...rest } = leak;
  const spread = value === null ? null : 1;
  return {
    ...rest,
    name,
    step: "airflow",
    measurand,
    value,
    unit: measurand === "suction" ? "kPa" : "W",
    uncertainty: spread,
    expanded_uncertainty: spread,
    lower: 400,
    verdict,
  };
}

/** A recorded attempt, without going through the plant. */
function attemptOf(serial: string, more: Partial<Traveller>) {
  const traveller: Traveller = {
    format: "drumtight/traveller/1",
    id: "0".repeat(32),
    ...facts(serial),
    ...outcome(),
    chain: { sequence: 1, previous: null },
    reference: undefined,
    ...more,
  };
  return { attempt: { ...attempt, serial }, traveller, path: "records/1.json", seconds: 20 };
}

const OUT = [{ code: "OUT_OF_LIMITS", sentence: "suction is below the lower limit." }];
const FIVE_FAIL = ["sealed suction", "working suction", "open flow", "input power", "suction power"].map(
  (name) => judged(name, "suction", 300, "fail"),
);

function lineOf(more: Partial<Traveller>): string {
  let line = "";
  new LineReporter((text) => {
    line += text;
  }).unit(attemptOf("TUB531812", more));
  return line.trimEnd();
}

describe("the line of a failed unit", () => {
  it("ends with what it is suspected of, and names two of the values that failed", () => {
    const line = lineOf({ verdict: "fail", reasons: OUT, characteristics: FIVE_FAIL, suspects: SUSPECTS });
    expect(line).toMatch(
      /sealed suction, working suction and 3 more; suspect: blocked path, else weak motor$/,
    );
    expect(line).not.toContain("\n");
  });

  it("names three where that is all there are, and one suspect where that is the only one", () => {
    const line = lineOf({
      verdict: "fail",
      reasons: OUT,
      characteristics: FIVE_FAIL.slice(0, 3),
      suspects: SUSPECTS.slice(0, 1),
    });
    expect(line).toMatch(/sealed suction, working suction, open flow; suspect: blocked path$/);
  });

  it("says nothing of suspects where there are none", () => {
    const line = lineOf({ verdict: "fail", reasons: OUT, characteristics: FIVE_FAIL.slice(0, 1) });
    expect(line).toMatch(/sealed suction$/);
  });
});

it("the verdicts of the demo's reference pieces stand below each other, however long their serials are", () => {
  const columns = ["REF-TIGHT-POD-4", "REF-LEAK-TUB-12", "REF-ORIFICE-TUB-12"].map((piece) => {
    let line = "";
    const finished = { ...attemptOf("TUB531812", {}) };
    const traveller = { ...finished.traveller, serial: piece, kind: "reference" as const };
    new LineReporter((text) => {
      line += text;
    }).reference({ ...finished, traveller });
    expect(line).toContain(piece);
    return line.indexOf(" reference ");
  });
  expect(new Set(columns).size).toBe(1);
});

describe("a station without a screen that stops", () => {
  const TRIPPED = {
    code: "INSTRUMENT_FAULT",
    sentence: "io_block: its watchdog tripped; check its cable.",
  } as const;
  const LIVE = {
    code: "OUTPUT_FAULT",
    sentence: "The I/O block did not confirm its outputs. Treat the fixture as live.",
  } as const;
  const NEXT = "The next scan acknowledges this, and connects to every instrument afresh.";

  function linesOf(tell: (reporter: LineReporter) => void): string[] {
    let text = "";
    tell(
      new LineReporter((line) => {
        text += line;
      }),
    );
    return text.trimEnd().split("\n");
  }

  it("says each of its reasons once, in the unit's line, and then how to go on", () => {
    const [unit, ...stop] = linesOf((reporter) => {
      reporter.unit(attemptOf("TUB531813", { verdict: "void", reasons: [TRIPPED, LIVE] }));
      reporter.faulted([TRIPPED, LIVE], false);
    });
    expect(unit).toContain(`${TRIPPED.sentence} ${LIVE.sentence}`);
    expect(stop).toEqual([`STOPPED, outputs NOT confirmed. ${NEXT}`]);
  });

  it("says in one line what no unit's line has said, again where it comes again", () => {
    const stopped = linesOf((reporter) => {
      reporter.unit(attemptOf("TUB531813", { verdict: "void", reasons: [TRIPPED] }));
      reporter.faulted([TRIPPED, LIVE], false);
      reporter.faulted([TRIPPED], true);
      reporter.faulted([], true);
    }).slice(1);
    expect(stopped).toEqual([
      `STOPPED, outputs NOT confirmed. ${LIVE.sentence} ${NEXT}`,
      `STOPPED, outputs safe. ${TRIPPED.sentence} ${NEXT}`,
    ]);
  });

  it("says to whom it refuses a scan how to go on", () => {
    const [line] = linesOf((reporter) => reporter.refused("TUB531814", [refusedBecause(TRIPPED)]));
    expect(line).toBe(
      `TUB531814: not started. The station is stopped: ${TRIPPED.sentence} Mend that, then scan again: each scan acknowledges, and connects to every instrument afresh.`,
    );
  });

  it("does not say that any scan acknowledges what an engineer has to look at", () => {
    const alike = { code: "SAME_FAIL_IN_A_ROW", sentence: "Call the engineer." } as const;
    expect(linesOf((reporter) => reporter.faulted([alike], true))).toEqual([
      "STOPPED, outputs safe. Call the engineer.",
    ]);
  });
});

describe("the line of any unit", () => {
  const power = judged("input power", "power", 1043, "pass");
  const suction = judged("sealed suction", "suction", 22.31, "pass");
  const atPoint = judged("working suction power", "suction_power", 470.2, "pass");
  const largest = judged("best suction power", "largest_suction_power", 482.3, "pass");
  it.each([
    ["the largest suction power", "suction power 482.3 W", [power, suction, atPoint, largest]],
    ["suction power at a point", "suction power 470.2 W", [power, suction, atPoint]],
    ["suction", "suction 22.31 kPa", [power, suction]],
    ["the first value, by its name, where there is nothing better", "input power 1043 W", [power]],
  ])("tells how it pulls by %s", (_, text, characteristics) => {
    expect(lineOf({ characteristics })).toContain(text);
  });

  it("tells an airflow step that was not come to from a model that has none", () => {
    const [leak] = outcome().characteristics;
    if (!leak) throw new Error("the example has a characteristic");
    const skipped = { ...judged("sealed suction", "suction", null, "void"), why: "not measured" };
    expect(
      lineOf({ verdict: "fail", reasons: OUT, characteristics: [{ ...leak, verdict: "fail" }, skipped] }),
    ).toContain("airflow not measured");
    expect(lineOf({ characteristics: [leak] })).toContain("no airflow step");
  });
});

describe("the event of a unit", () => {
  const told = (more: Partial<Traveller>) => {
    let text = "";
    new EventReporter((line) => {
      text += line;
    }).unit(attemptOf("TUB531812", more));
    return JSON.parse(text);
  };

  it("has the suspects with their evidence, and the results of the airflow step", () => {
    const event = told({
      verdict: "fail",
      reasons: OUT,
      characteristics: FIVE_FAIL,
      suspects: SUSPECTS,
      airflow: [airflow()],
    });
    expect(event.suspects).toEqual(SUSPECTS);
    const { points, curve } = airflow();
    expect(event.airflow).toMatchObject([{ step: "airflow", stated_at: { density_kg_m3: 1.2 }, curve }]);
    expect(event.airflow[0].points[1].suction_power_W).toEqual(points[1]?.suction_power_W);
    expect(event.airflow[0].points[1]).not.toHaveProperty("readings");
    expect(event.characteristics[0]).toMatchObject({ name: "sealed suction", measurand: "suction" });
  });

  it("has empty lists where nothing is suspected and no air flowed", () => {
    expect(told({})).toMatchObject({ suspects: [], airflow: [] });
  });
});

describe("the summary of a run", () => {
  const tally = new Tally();
  const failed = (serial: string, suspects?: Traveller["suspects"]) =>
    tally.add(
      attemptOf(serial, {
        verdict: "fail",
        reasons: OUT,
        characteristics: FIVE_FAIL,
        ...(suspects ? { suspects } : {}),
      }),
    );
  failed("A1", SUSPECTS);
  failed("A2", SUSPECTS.slice(1));
  failed("A3", SUSPECTS);
  failed("A4");
  failed("A3", SUSPECTS.slice(1));
  tally.add(attemptOf("A5", {}));

  it("counts failed units by their first suspect, a unit once, and says how many have none", () => {
    let text = "";
    new LineReporter((line) => {
      text += line;
    }).summary(tally, "records");
    expect(text).toContain("Failed units by first suspect: blocked path 2, weak motor 1, no suspect 1.");
    let event = "";
    new EventReporter((line) => {
      event += line;
    }).summary(tally, "records");
    expect(JSON.parse(event)).toMatchObject({
      first_suspects: { "blocked path": 2, "weak motor": 1 },
      failed_without_suspect: 1,
    });
  });

  it("has no such line where nothing was suspected", () => {
    let text = "";
    new LineReporter((line) => {
      text += line;
    }).summary(new Tally(), "records");
    expect(text).not.toContain("suspect");
  });
});
