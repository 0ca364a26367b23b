import { describe, expect, it } from "vitest";
import { withParts } from "../../station/cycle/armed-attempt.ts";
import type { PreparedAttempt, ReferencePiece } from "../../station/cycle/attempt.ts";
import type { StationEvent } from "../../station/cycle/station-setup.ts";
import { ABORTED } from "../../station/cycle/unit-reasons.ts";
import { marsh, okoro, SCAN, StationBench, sameFails, silent } from "./station-bench.ts";
import { pod } from "./unit-bench.ts";

const EVENTS: Readonly<Record<StationEvent["type"], StationEvent>> = {
  SIGN_IN: { type: "SIGN_IN", who: okoro },
  SIGN_OUT: { type: "SIGN_OUT" },
  SCAN,
  PART: { type: "PART", parts: { tub_cavity: "P2" } },
  REASON: { type: "REASON", index: 0 },
  START: { type: "START" },
  ABORT: { type: "ABORT", reason: ABORTED },
  GUARD_OPENED: { type: "GUARD_OPENED" },
  FAULT: { type: "FAULT", reason: silent },
  ACKNOWLEDGE: { type: "ACKNOWLEDGE" },
};

const PIECE: ReferencePiece = {
  serial: "REF-LEAK-POD-4",
  kind: "leak",
  model: "POD-4",
  certified_m3_s: 15e-6 / 60,
  tolerance_m3_s: 2e-6 / 60,
  unit: "mL/min",
  orifice: null,
};

const REASONS = { kind: "retest", retestReasons: ["hose was off", "unit was bumped"] } as const;

/** Every state somebody can meet the station in, and how it gets there. */
const STATES: Readonly<Record<string, () => Promise<StationBench>>> = {
  signedOut: async () => new StationBench(),
  needsReference: async () => {
    const bench = new StationBench();
    bench.referenceInForce = false;
    return bench.signIn();
  },
  ready: async () => new StationBench().signIn(),
  identifying: async () => {
    const bench = new StationBench().signIn();
    bench.send(SCAN);
    return bench;
  },
  armed: () => new StationBench().arm(),
  "armed, a part missing": () => new StationBench().arm({ missingParts: ["tub_cavity"] }),
  "armed, a reason to choose": () => new StationBench().arm(REASONS),
  checking: async () => {
    const bench = await new StationBench().arm();
    bench.send({ type: "START" });
    return bench;
  },
  testing: () => new StationBench().test(),
  "faulted, nobody there": async () => new StationBench().fault(),
  faulted: async () => new StationBench().signIn().fault({ ...silent, sentence: "Another gauge is silent." }),
  "faulted, same fails": async () => new StationBench().signIn().fault(sameFails),
  recovering: async () => {
    const bench = new StationBench().signIn().fault();
    bench.send({ type: "ACKNOWLEDGE" });
    return bench;
  },
};

type Row = Readonly<Record<StationEvent["type"], string>>;

const NOBODY_THERE = "refused NOT_SIGNED_IN";
const FAULTED = "refused STATION_FAULTED";
const IDLE = {
  SIGN_IN: "signed_in",
  SIGN_OUT: "-> signedOut signed_out",
  SCAN: "-> identifying",
  PART: "refused NO_UNIT",
  REASON: "refused NO_UNIT",
  START: "",
  ABORT: "",
  GUARD_OPENED: "",
  FAULT: "-> faulted faulted",
  ACKNOWLEDGE: "",
};
const ARMED = {
  ...IDLE,
  SIGN_IN: "signed_in armed",
  PART: "armed",
  REASON: "refused RETEST_REASON_MISSING",
  START: "-> checking",
  ABORT: "-> ready refused ABORTED",
};
const STOPPED = {
  SIGN_IN: "signed_in",
  SIGN_OUT: "signed_out",
  SCAN: FAULTED,
  PART: FAULTED,
  REASON: FAULTED,
  START: "",
  ABORT: "",
  GUARD_OPENED: "",
  FAULT: "faulted",
  ACKNOWLEDGE: "-> recovering",
};
const MOMENT = "refused BUSY";

/** Where each event leads from each state, and what is told of it; "" is: nothing at all. */
const TABLE: Readonly<Record<string, Row>> = {
  signedOut: {
    ...IDLE,
    SIGN_IN: "-> ready signed_in",
    SIGN_OUT: "",
    SCAN: NOBODY_THERE,
    PART: NOBODY_THERE,
    REASON: NOBODY_THERE,
  },
  needsReference: IDLE,
  ready: IDLE,
  identifying: {
    ...IDLE,
    SIGN_IN: MOMENT,
    SIGN_OUT: MOMENT,
    SCAN: MOMENT,
    ABORT: "-> ready refused ABORTED",
  },
  armed: ARMED,
  "armed, a part missing": { ...ARMED, START: "refused PART_MISSING" },
  "armed, a reason to choose": { ...ARMED, REASON: "armed", START: "refused RETEST_REASON_MISSING" },
  checking: {
    ...IDLE,
    SIGN_IN: MOMENT,
    SIGN_OUT: MOMENT,
    SCAN: MOMENT,
    PART: MOMENT,
    REASON: MOMENT,
    ABORT: "-> ready refused ABORTED",
    GUARD_OPENED: "-> armed refused GUARD_OPEN",
  },
  testing: {
    SIGN_IN: MOMENT,
    SIGN_OUT: MOMENT,
    SCAN: MOMENT,
    PART: MOMENT,
    REASON: MOMENT,
    START: "",
    // These three are the unit machine's: it ends the test in good order.
    ABORT: "",
    GUARD_OPENED: "",
    FAULT: "",
    ACKNOWLEDGE: "",
  },
  "faulted, nobody there": { ...STOPPED, SIGN_OUT: "", FAULT: "", ACKNOWLEDGE: NOBODY_THERE },
  faulted: STOPPED,
  "faulted, same fails": { ...STOPPED, ACKNOWLEDGE: "refused NOT_ALLOWED" },
  recovering: {
    ...IDLE,
    SIGN_IN: MOMENT,
    SIGN_OUT: MOMENT,
    SCAN: MOMENT,
    // Kept until the recovery has ended.
    FAULT: "",
  },
};

describe.each(Object.entries(TABLE))("in the state %s", (state, row) => {
  it.each(Object.entries(row))("%s leads to: %s", async (type, expected) => {
    const bench = await (STATES[state] as () => Promise<StationBench>)();
    const before = bench.state;
    expect(state.startsWith(before)).toBe(true);
    bench.told();
    bench.send(EVENTS[type as StationEvent["type"]]);
    const told = bench.told().join(" ");
    const moved = bench.state === before ? "" : `-> ${bench.state}`;
    expect(`${moved} ${told}`.trim()).toBe(expected);
  });
});

describe("a test", () => {
  it("starts only from an armed unit whose start was checked, whatever else is sent", async () => {
    for (const make of Object.values(STATES)) {
      for (const event of Object.values(EVENTS)) {
        const bench = await make();
        const isUnderTest = bench.state === "testing";
        bench.told();
        bench.send(event);
        expect(bench.told()).not.toContain("started");
        expect(bench.state === "testing").toBe(isUnderTest);
      }
    }
  });

  it("is of what the check at the start found, not of what was armed", async () => {
    const bench = await new StationBench().arm();
    bench.send({ type: "START" });
    const attempt = { ...(bench.attempt as PreparedAttempt), number: 2, kind: "after_rework" as const };
    await bench.checkStart.resolve({ kind: "start", attempt });
    expect(bench.attempt).toMatchObject({ number: 2, kind: "after_rework" });
  });

  it("that may not start yet leaves the unit armed with its parts, and one that may not leaves it", async () => {
    const bench = await new StationBench().arm({ parts: { tub_cavity: "P1" } });
    bench.send({ type: "START" });
    const attempt = bench.attempt as PreparedAttempt;
    const open = { code: "GUARD_OPEN", sentence: "Close it." } as const;
    await bench.checkStart.resolve({ kind: "not_yet", attempt, reasons: [open] });
    expect(bench.state).toBe("armed");
    expect(bench.attempt?.parts).toEqual({ tub_cavity: "P1" });
    bench.send({ type: "START" });
    await bench.checkStart.resolve({ kind: "refused", reasons: [open] });
    expect(bench.state).toBe("ready");
    expect(bench.attempt).toBeNull();
  });

  it("whose start can't be checked stops the station", async () => {
    const bench = await new StationBench().arm();
    bench.send({ type: "START" });
    await bench.checkStart.reject(new Error("The gauge is gone."));
    expect(bench.state).toBe("faulted");
  });

  it("that could not be begun stops the station, and no verdict is told", async () => {
    const bench = await new StationBench().test();
    bench.told();
    await bench.begin.reject(new Error("The disk is full."));
    expect(bench.state).toBe("faulted");
    expect(bench.news).toMatchObject([
      { type: "finished", output: { kind: "not_recorded" } },
      { type: "faulted", reasons: [{ code: "RECORD_NOT_WRITTEN" }] },
    ]);
  });

  it("is told before the station stops for what it means", async () => {
    const bench = await new StationBench().test();
    bench.told();
    bench.stopsAfter = [sameFails];
    await bench.abort();
    expect(bench.told()).toEqual(["finished", "faulted"]);
    bench.fault(sameFails);
    expect(bench.told()).toEqual([]);
  });

  it("that stops the station for nothing leaves it ready for the next scan", async () => {
    const bench = await new StationBench().test();
    bench.told();
    await bench.abort();
    expect(bench.told()).toEqual(["finished"]);
    expect(bench.state).toBe("ready");
  });
});

describe("the armed unit", () => {
  it("takes parts until none is missing, and of one part no second label", async () => {
    const bench = await new StationBench().arm({ missingParts: ["tub_cavity"] });
    bench.send({ type: "PART", parts: { tub_cavity: "P1" } });
    expect(bench.attempt).toMatchObject({ parts: { tub_cavity: "P1" }, missingParts: [] });
    bench.send({ type: "PART", parts: { tub_cavity: "P2" } });
    expect(bench.told().at(-1)).toBe("refused BAD_PART");
    expect(bench.attempt).toMatchObject({ parts: { tub_cavity: "P1" } });
    bench.told();
    bench.send({ type: "START" });
    expect(bench.state).toBe("checking");
  });

  it.each([
    ["no label of that part", { tub_cavity: "Z9" }],
    ["a part the model has not", { wheel: "1" }],
  ])("refuses %s and stays as it is", async (_, parts) => {
    const bench = await new StationBench().arm({ missingParts: ["tub_cavity"] });
    bench.told();
    bench.send({ type: "PART", parts });
    expect(bench.told()).toEqual(["refused BAD_PART"]);
    expect(bench.attempt).toMatchObject({ parts: {}, missingParts: ["tub_cavity"] });
  });

  it("refuses the label of any part while it is a reference piece, of which none is tracked", async () => {
    const bench = await new StationBench().arm({ serial: PIECE.serial, reference: PIECE });
    bench.told();
    bench.send({ type: "PART", parts: { tub_cavity: "P1" } });
    expect(bench.told()).toEqual(["refused BAD_PART"]);
    expect(bench.attempt?.parts).toEqual({});
    expect(withParts(bench.attempt as PreparedAttempt, { tub_cavity: "P1" }).parts).toEqual({});
  });

  it("takes another of the limit file's reasons until the start", async () => {
    const [, second, third] = pod.retest.reasons;
    const bench = await new StationBench().arm({ kind: "retest", retestReason: second ?? null });
    bench.send({ type: "REASON", index: 2 });
    expect(bench.attempt).toMatchObject({ retestReason: third, retestReasons: [] });
    bench.told();
    bench.send({ type: "REASON", index: 9 });
    expect(bench.told()).toEqual(["refused RETEST_REASON_MISSING"]);
    expect(bench.attempt?.retestReason).toBe(third);
  });

  it("is not named when somebody may not acknowledge a stop", async () => {
    const bench = await new StationBench().arm();
    bench.fault(sameFails);
    bench.send({ type: "ACKNOWLEDGE" });
    expect(bench.news.at(-1)).toMatchObject({
      type: "refused",
      serial: "",
      reasons: [{ code: "NOT_ALLOWED" }],
    });
  });

  it("takes one of the reasons and no other number", async () => {
    const bench = await new StationBench().arm(REASONS);
    bench.send({ type: "REASON", index: 2 });
    expect(bench.attempt?.retestReason).toBeNull();
    bench.send({ type: "REASON", index: 1 });
    expect(bench.attempt).toMatchObject({ retestReason: "unit was bumped", retestReasons: [] });
  });

  it("is the new person's when somebody takes over, and nobody's when they sign out", async () => {
    const bench = await new StationBench().arm();
    bench.signIn(okoro);
    expect(bench.attempt?.who).toEqual(okoro);
    bench.send({ type: "SIGN_OUT" });
    expect(bench.attempt).toBeNull();
    bench.signIn(marsh);
    bench.send({ type: "START" });
    expect(bench.state).toBe("ready");
  });
});

describe("a stop for units that fail alike", () => {
  it("outlasts a sign-out, after which nobody may acknowledge until an engineer signs in anew", () => {
    const bench = new StationBench().signIn(okoro).fault(sameFails);
    bench.send({ type: "SIGN_OUT" });
    expect(bench.state).toBe("faulted");
    bench.told();
    bench.send({ type: "ACKNOWLEDGE" });
    expect(bench.told()).toEqual(["refused NOT_SIGNED_IN"]);
    expect(bench.state).toBe("faulted");
    bench.signIn(okoro);
    bench.send({ type: "ACKNOWLEDGE" });
    expect(bench.state).toBe("recovering");
  });

  it("is acknowledged by an engineer who signs in at the stopped station", async () => {
    const bench = new StationBench().signIn(marsh).fault(sameFails);
    bench.send({ type: "ACKNOWLEDGE" });
    expect(bench.state).toBe("faulted");
    bench.signIn(okoro);
    bench.send({ type: "ACKNOWLEDGE" });
    expect(bench.state).toBe("recovering");
    await bench.recover.resolve();
    expect(bench.state).toBe("ready");
    expect(bench.who).toEqual(okoro);
  });

  it("is acknowledged by whoever is there where nobody proves who they are", () => {
    const bench = new StationBench({ signsPeopleIn: false }).signIn(marsh).fault(sameFails);
    bench.send({ type: "ACKNOWLEDGE" });
    expect(bench.state).toBe("recovering");
  });
});

describe("a recovery", () => {
  it("in which another fault comes ends in that fault", async () => {
    const bench = new StationBench().signIn().fault();
    bench.send({ type: "ACKNOWLEDGE" });
    const another = { ...silent, sentence: "The I/O block is silent." };
    bench.fault(another);
    bench.told();
    await bench.recover.resolve();
    expect(bench.state).toBe("faulted");
    expect(bench.news).toEqual([{ type: "faulted", reasons: [another] }]);
  });

  it("that fails stops the station again, with the new reason alone", async () => {
    const bench = new StationBench().signIn().fault();
    bench.send({ type: "ACKNOWLEDGE" });
    bench.told();
    await bench.recover.reject(new Error("The gauge is gone."));
    expect(bench.news).toMatchObject([{ type: "faulted", reasons: [{ sentence: "The gauge is gone." }] }]);
  });

  it("leads nowhere but to a sign-in when nobody is signed in", async () => {
    const bench = new StationBench().fault();
    bench.send({ type: "ACKNOWLEDGE" });
    expect(bench.state).toBe("faulted");
    bench.signIn();
    bench.send({ type: "ACKNOWLEDGE" });
    await bench.recover.resolve();
    expect(bench.state).toBe("ready");
  });
});
