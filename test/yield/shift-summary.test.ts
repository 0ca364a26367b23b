import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { NO_DOUBTS } from "../../station/records/doubts.ts";
import type { AttemptSummary } from "../../station/records/index-db.ts";
import { eventAt, type StationEvent, type StationEventDraft } from "../../station/records/station-event.ts";
import { type ShiftRecords, shiftSummary } from "../../station/yield/shift-summary.ts";
import { shiftSummaryLines } from "../../station/yield/shift-text.ts";
import { summary } from "./example-summary.ts";

const marsh = { name: "A. Marsh", sign_in: "badge", role: "inspector" } as const;
const imani = { name: "B. Imani", sign_in: "pin", role: "engineer" } as const;

/** Local time, so that the text does not depend on where the test runs. */
function at_ms(time: string): number {
  return new Date(`2026-01-05T${time}`).getTime();
}

function iso(time: string): string {
  return new Date(at_ms(time)).toISOString();
}

function event(time: string, draft: StationEventDraft): StationEvent {
  const at = { at_ms: at_ms(time), afterTraveller: 0 };
  return { ...eventAt(draft, at), chain: { sequence: 1, previous: null } };
}

function fault(time: string, code: string, sentence: string): StationEvent {
  return event(time, { event: "fault", reasons: [{ code, sentence }] });
}

function check(time: string, measured: number | null, more: Partial<AttemptSummary> = {}): AttemptSummary {
  return summary({
    recordKind: "reference",
    serial: "REF-LEAK",
    ended_at: iso(time),
    verdict: measured === null ? "void" : Math.abs(measured - 15) <= 2 ? "pass" : "fail",
    reference: { measured, certified: 15, tolerance: 2, unit: "mL/min" },
    ...more,
  });
}

function shift(records: Partial<ShiftRecords>): ShiftRecords {
  return {
    attempts: [],
    events: [],
    inDoubt: NO_DOUBTS,
    from_ms: at_ms("06:00"),
    to_ms: at_ms("14:00"),
    references: [],
    ...records,
  };
}

describe("a shift's summary", () => {
  it("counts what ended in the shift, from its first moment to just before its last", () => {
    const attempts = ["05:59:59.999", "06:00", "13:59:59.999", "14:00"].map((time) =>
      summary({ ended_at: iso(time) }),
    );
    const interrupted = summary({ verdict: "void", started_at: iso("08:00"), ended_at: null });
    expect(shiftSummary(shift({ attempts: [...attempts, interrupted] })).count).toMatchObject({
      tested: 3,
      pass: 2,
      void: 1,
    });
  });

  it("tells each fault once, how often and when it came last, in the newest one's words", () => {
    const events = [
      fault("05:00", "GUARD_OPENED", "Before the shift."),
      fault("06:10", "INSTRUMENT_FAULT", "The leak gauge is silent."),
      fault("07:10", "GUARD_OPENED", "The guard was opened."),
      fault("08:10", "INSTRUMENT_FAULT", "The flow gauge is silent."),
      event("08:11", { event: "acknowledged", who: marsh }),
    ];
    expect(shiftSummary(shift({ events })).faults).toEqual([
      { code: "INSTRUMENT_FAULT", sentence: "The flow gauge is silent.", count: 2, last: iso("08:10") },
      { code: "GUARD_OPENED", sentence: "The guard was opened.", count: 1, last: iso("07:10") },
    ]);
  });

  it("tells each reference piece's checks, also of one that was never checked or is not listed any more", () => {
    const attempts = [
      check("06:01", 15.2),
      check("07:01", 18),
      check("07:05", null),
      check("07:09", 15.1, { draft: true }),
      check("09:00", 14.9, { serial: "REF-OLD" }),
    ];
    const references = [
      { serial: "REF-LEAK", model: "demo-body" },
      { serial: "REF-TIGHT", model: "demo-body" },
    ];
    expect(shiftSummary(shift({ attempts, references })).references).toEqual([
      { serial: "REF-LEAK", model: "demo-body", passed: 1, failed: 1, newest: attempts[1] },
      { serial: "REF-TIGHT", model: "demo-body", passed: 0, failed: 0, newest: null },
      { serial: "REF-OLD", model: "demo-body", passed: 1, failed: 0, newest: attempts[4] },
    ]);
  });

  it("tells who was there, from before the shift, after another's badge, over a restart and still", () => {
    const events = [
      event("04:00", { event: "signed_in", who: imani }),
      event("05:00", { event: "signed_out", who: imani }),
      event("05:58", { event: "signed_in", who: marsh }),
      event("09:30", { event: "signed_in", who: imani }),
      event("10:00", { event: "opened" }),
      event("10:05", { event: "signed_in", who: marsh }),
      event("14:10", { event: "signed_out", who: marsh }),
    ];
    const people = [
      { name: "A. Marsh", from: iso("05:58"), to: iso("09:30") },
      { name: "B. Imani", from: iso("09:30"), to: iso("10:00") },
      { name: "A. Marsh", from: iso("10:05"), to: null },
    ];
    expect(shiftSummary(shift({ events })).people).toEqual(people);
    expect(
      shiftSummary(shift({ events: [event("07:00", { event: "signed_out", who: imani })] })).people,
    ).toEqual([{ name: "B. Imani", from: null, to: iso("07:00") }]);
  });
});

describe("a shift's summary in words", () => {
  const busy = shift({
    attempts: [
      ...Array.from({ length: 10 }, () => summary({ ended_at: iso("06:30") })),
      summary({ ended_at: iso("06:40"), verdict: "fail", suspect: "gasket pinched" }),
      summary({ ended_at: iso("06:50"), verdict: "fail", causes: ["leak rate", "suction power at working"] }),
      summary({ ended_at: iso("06:55"), verdict: "void" }),
      check("06:01", 15.2),
      check("10:01", 18),
    ],
    events: [
      event("05:58", { event: "signed_in", who: marsh }),
      fault(
        "07:10",
        "INSTRUMENT_FAULT",
        "The leak gauge has not answered for 2 s: check its cable and its supply, then acknowledge.",
      ),
      fault(
        "08:10",
        "INSTRUMENT_FAULT",
        "The leak gauge has not answered for 2 s: check its cable and its supply, then acknowledge.",
      ),
    ],
    references: [
      { serial: "REF-LEAK", model: "demo-body" },
      { serial: "REF-TIGHT", model: "demo-body" },
    ],
  });

  it("says all of it in lines of 76 characters", () => {
    const doubted = busy.attempts[0]?.sha256 ?? "";
    const held = busy.attempts[1];
    const inDoubt = {
      ...NO_DOUBTS,
      inDoubt: new Set([doubted]),
      untrusted: new Set([doubted]),
      heldByHand: new Map([[held?.serial ?? "", held?.sha256 ?? ""]]),
    };
    expect(shiftSummaryLines(shiftSummary({ ...busy, inDoubt }), 76)).toEqual([
      "Shift 2026-01-05 06:00 to 14:00",
      "Tested 13: 9 pass, 2 fail, 1 void, 1 not to be trusted.",
      "First pass yield 81.8 % (9 of 11 units); 95 % sure: 48.2 to 97.7 %.",
      "1 unit is in doubt, held and not counted: test again or release.",
      "1 unit is on hold by somebody's decision: send none on until it is released.",
      "Failed units by what failed: leak rate 2, suction power at working 1.",
      "Failed units by first suspect: gasket pinched 1, no suspect 1.",
      "Faults:",
      "  2 times, last at 08:10: The leak gauge has not answered for 2 s: check its",
      "    cable and its supply, then acknowledge.",
      "Reference checks:",
      "  REF-LEAK: 1 passed, 1 failed; last 10:01 fail, 18.00 mL/min (certified 15",
      "    ± 2)",
      "  REF-TIGHT: not checked",
      "Signed in: A. Marsh since 05:58.",
    ]);
  });

  it("says so where nothing happened", () => {
    expect(shiftSummaryLines(shiftSummary(shift({})), 76)).toEqual([
      "Shift 2026-01-05 06:00 to 14:00",
      "Tested 0: 0 pass, 0 fail, 0 void.",
      "First pass yield: no unit was inspected.",
      "Failed units by what failed: none.",
      "Failed units by first suspect: none.",
      "Faults: none.",
      "Reference checks: none.",
      "Signed in: none.",
    ]);
  });

  it("never makes a line longer than it may be", () => {
    fc.assert(
      fc.property(fc.integer({ min: 40, max: 120 }), (width) => {
        for (const line of shiftSummaryLines(shiftSummary(busy), width))
          expect(line.length).toBeLessThanOrEqual(width);
      }),
    );
  });
});
