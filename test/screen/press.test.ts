import { describe, expect, it } from "vitest";
import { firstQuestion, type ScreenState } from "../../station/screen/screen-state.ts";
import { armed, armedWith, atWork, observed, testing } from "./example-state.ts";
import { BADGE, PIN, pressAll } from "./press-keys.ts";

const scanOf = (serial: string, parts = {}) => ({ do: "scan", scan: { serial, parts } });
const withNext = { observed: observed({ next: { serial: "POD531811", isReference: false } }) };
const misread = (serial: string) => ({
  do: "scan",
  scan: { serial, parts: {}, misread: [expect.objectContaining({ code: expect.any(String) })] },
});

/** A station where people sign in by badge, or by name and PIN. */
function ofPeople(state: ScreenState): ScreenState {
  const facts = { ...state.facts, signIn: "people" as const };
  return { ...state, facts, signIn: firstQuestion(facts) };
}
const INES = { name: "Ines Roth", role: "inspector", how: "badge" } as const;
const asking = ofPeople(atWork("signedOut", { page: "sign_in" }));
const askingPin: ScreenState = {
  ...asking,
  signIn: { ...asking.signIn, asks: "pin", name: "Ines Roth" },
};

describe("what a key does at work", () => {
  it.each<[string, ScreenState, string[], unknown[]]>([
    ["a typed serial and Enter scan it", atWork("ready"), ["TUB", "000123", "enter"], [scanOf("TUB000123")]],
    [
      "tracked parts are scanned with the serial",
      atWork("ready"),
      ["POD000123 tub_cavity=P2", "enter"],
      [scanOf("POD000123", { tub_cavity: "P2" })],
    ],
    [
      "Backspace takes back one character",
      atWork("ready"),
      ["TUB000124", "backspace", "5", "enter"],
      [scanOf("TUB000125")],
    ],
    [
      "arrows, Home, End and Delete edit the middle of the line",
      atWork("ready"),
      ["UB0x0012", "home", "T", "right", "right", "right", "delete", "end", "3", "enter"],
      [scanOf("TUB000123")],
    ],
    [
      "Ctrl-U clears the line",
      atWork("ready"),
      ["TUB9", "erase_line", "TUB000123", "enter"],
      [scanOf("TUB000123")],
    ],
    ["Esc clears the line", atWork("ready"), ["TUB000123", "escape", "enter"], []],
    ["Enter on an empty line does nothing on a real station", atWork("ready"), ["enter"], []],
    ["Enter takes the next simulated unit", atWork("ready", withNext), ["enter"], [{ do: "put_on_next" }]],
    [
      "Enter on a typed serial does not take the next one",
      atWork("ready", withNext),
      ["TUB000123", "enter"],
      [scanOf("TUB000123")],
    ],
    ["Enter starts an armed unit", armed(), ["enter"], [{ do: "start" }]],
    ["a scan on an armed unit changes the mind", armed(), ["TUB000123", "enter"], [scanOf("TUB000123")]],
    ["Esc puts an armed unit aside", armed(), ["escape"], [{ do: "abort" }]],
    ["but clears a half typed line first", armed(), ["P", "escape"], []],
    ["Esc aborts a running test", testing(), ["escape"], [{ do: "abort" }]],
    ["Esc aborts also with half a serial typed", testing(), ["TU", "escape"], [{ do: "abort" }]],
    ["Esc aborts under every overlay", { ...testing(), overlay: "help" }, ["escape"], [{ do: "abort" }]],
    ["Esc aborts a test about to start", atWork("checking"), ["escape"], [{ do: "abort" }]],
    ["Enter does nothing during a test", { ...testing(), ...withNext }, ["enter", "enter"], []],
    ["Tab acknowledges a fault", atWork("faulted"), ["tab"], [{ do: "acknowledge" }]],
    [
      "also while the gauges' lines are shown",
      atWork("faulted", { overlay: "conversation" }),
      ["tab"],
      [{ do: "acknowledge" }],
    ],
    ["Enter does not acknowledge a fault", atWork("faulted", withNext), ["enter", "escape"], []],
    ["Tab does nothing without a fault", atWork("ready"), ["tab"], []],
    ["Tab does nothing during a test", testing(), ["tab"], []],
    ["q and Enter leave", atWork("ready"), ["q", "enter"], [{ do: "leave" }]],
    ["Ctrl-C leaves from a running test", testing(), ["interrupt"], [{ do: "leave" }]],
    [
      "Ctrl-C twice does not wait",
      testing(),
      ["interrupt", "interrupt"],
      [{ do: "leave" }, { do: "leave_at_once" }],
    ],
    [
      "no other key does anything on leaving",
      testing(),
      ["interrupt", "enter", "tab", "x", "enter"],
      [{ do: "leave" }],
    ],
  ])("%s", (_, state, keys, deeds) => {
    expect(pressAll(state, ...keys).deeds).toEqual(deeds);
  });

  it("shows what is typed, where the next character goes, and forgets it once scanned", () => {
    expect(pressAll(atWork("ready"), "TU", "B1").state).toMatchObject({ typed: "TUB1", cursor: 4 });
    expect(pressAll(atWork("ready"), "TUB1", "left", "left").state).toMatchObject({
      typed: "TUB1",
      cursor: 2,
    });
    expect(pressAll(atWork("ready"), "TUB000123", "enter").state).toMatchObject({ typed: "", cursor: 0 });
  });

  it("tells the station of a label nobody can read, so that the unit armed before is not started for another", () => {
    expect(pressAll(armed(), "bread", "enter").deeds).toEqual([misread("bread")]);
  });

  it("tells the station of a unit's scan also while it is at work: the station says why it is not taken", () => {
    for (const machine of ["identifying", "checking", "testing", "faulted", "recovering"]) {
      expect(pressAll(atWork(machine), "TUB000123", "enter").deeds).toEqual([scanOf("TUB000123")]);
    }
  });
});

describe("what is shown over the page", () => {
  it.each<[string, string[], ScreenState["overlay"]]>([
    ["? and Enter show the help", ["?", "enter"], "help"],
    ["so does F1", ["f1"], "help"],
    ["and takes it away again", ["f1", "f1"], null],
    ["s and Enter show the shift", ["s", "enter"], "summary"],
    ["so does F2", ["f2"], "summary"],
    ["g and Enter show what the gauges said", ["g", "enter"], "conversation"],
    ["so does F3", ["f3"], "conversation"],
    ["Esc closes it", ["f3", "escape"], null],
    ["Enter closes it", ["f3", "enter"], null],
    ["a scan closes it", ["f1", "TUB000123", "enter"], null],
  ])("%s", (_, keys, overlay) => {
    expect(pressAll(atWork("ready"), ...keys).state.overlay).toBe(overlay);
  });

  it("is the help where somebody is asked who they are, and after they signed out, until Enter or a badge", () => {
    for (const state of [asking, askingPin, ofPeople(atWork("signedOut", { page: "summary" }))]) {
      expect(pressAll(state, "f1").state).toMatchObject({ page: state.page, overlay: "help" });
      expect(pressAll(state, "f1", "enter").state).toMatchObject({ page: state.page, overlay: null });
      const scanned = pressAll(state, "f1", BADGE, "enter");
      expect(scanned.deeds).toEqual([{ do: "try_badge", badge: BADGE }]);
      expect(scanned.state.overlay).toBeNull();
    }
  });

  it("starts nothing by an Enter that closes it", () => {
    const { state, deeds } = pressAll({ ...armed(), ...withNext }, "f1", "enter");
    expect(deeds).toEqual([]);
    expect(state.overlay).toBeNull();
    expect(pressAll(state, "enter").deeds).toEqual([{ do: "start" }]);
  });

  it("takes a scan that comes while it is shown, and does not count its Enter", () => {
    for (const overlay of ["help", "conversation", "summary"] as const) {
      expect(pressAll({ ...armed(), overlay }, "TUB000123", "enter").deeds).toEqual([scanOf("TUB000123")]);
    }
  });

  it("asks for the shift's numbers when they are to be shown", () => {
    expect(pressAll(atWork("ready"), "f2", "f2").deeds).toEqual([{ do: "sum_up" }]);
  });
});

describe("parts' labels", () => {
  it("wait for the next serial, and go with it", () => {
    const waiting = pressAll(atWork("ready"), "P2", "enter", "G0815", "enter");
    expect(waiting.deeds).toEqual([]);
    expect(waiting.state.waitingParts).toEqual({ tub_cavity: "P2", gasket_lot: "G0815" });
    const scanned = pressAll(waiting.state, "POD000123", "enter");
    expect(scanned.deeds).toEqual([scanOf("POD000123", { tub_cavity: "P2", gasket_lot: "G0815" })]);
    expect(scanned.state.waitingParts).toEqual({});
  });

  it("are dropped by Esc, and never reach the unit after", () => {
    const dropped = pressAll(atWork("ready"), "P2", "enter", "escape");
    expect(dropped.state).toMatchObject({ waitingParts: {}, remark: expect.stringContaining("dropped") });
    expect(pressAll(dropped.state, "POD000123", "enter").deeds).toEqual([scanOf("POD000123")]);
  });

  it("are refused with a unit whose own label contradicts them", () => {
    const { deeds } = pressAll(atWork("ready"), "P2", "enter", "POD000123 tub_cavity=P1", "enter");
    expect(deeds).toMatchObject([{ do: "scan", scan: { misread: [{ code: "BAD_PART" }] } }]);
  });

  it("are refused when another label of the same part waits already; Esc begins anew", () => {
    const second = pressAll(atWork("ready"), "P1", "enter", "P2", "enter");
    expect(second.state).toMatchObject({
      waitingParts: { tub_cavity: "P1" },
      remark: expect.stringMatching(/"P2" was not taken: "P1" was scanned as the tub cavity already.*Esc/),
    });
    expect(pressAll(second.state, "P1", "enter").state).toMatchObject({
      waitingParts: { tub_cavity: "P1" },
      remark: null,
    });
    expect(pressAll(second.state, "escape", "P2", "enter").state.waitingParts).toEqual({ tub_cavity: "P2" });
  });

  it("of an armed unit are kept for its serial alone when a label can't be read, with those scanned meanwhile", () => {
    const unread = pressAll(armedWith({ serial: "POD000123", parts: { tub_cavity: "P2" } }), "N12", "enter");
    expect(unread.deeds).toEqual([misread("N12")]);
    const disarmed = { ...unread.state, machine: "ready", unit: null };
    const other = pressAll(disarmed, "G0815", "enter", "POD000124", "enter");
    expect(other.deeds).toEqual([]);
    expect(other.state.remark).toBe(
      '"POD000124" was not taken: tub cavity P2, gasket lot G0815 had been scanned for POD000123. Scan POD000123 again; or press Esc, which drops the parts.',
    );
    expect(pressAll(other.state, "POD000123", "enter").deeds).toEqual([
      scanOf("POD000123", { tub_cavity: "P2", gasket_lot: "G0815" }),
    ]);
    expect(pressAll(other.state, "escape", "POD000124", "enter").deeds).toEqual([scanOf("POD000124")]);
  });

  it("of an armed unit stay with it when its own serial is scanned once more", () => {
    const again = armedWith({ serial: "POD000123", parts: { tub_cavity: "P2" } });
    expect(pressAll(again, "POD000123", "enter").deeds).toEqual([scanOf("POD000123", { tub_cavity: "P2" })]);
    expect(pressAll(again, "POD000124", "enter").deeds).toEqual([scanOf("POD000124")]);
  });

  it("belong to the armed unit once one is armed", () => {
    expect(pressAll(armed(), "T3", "enter").deeds).toEqual([
      { do: "add_parts", parts: { tub_cavity: "T3" } },
    ]);
  });

  it("are not kept for a unit that nobody has put on yet, during a test or a stop", () => {
    for (const state of [testing(), atWork("faulted"), atWork("identifying")]) {
      const after = pressAll(state, "P2", "enter");
      expect(after.deeds).toEqual([]);
      expect(after.state).toMatchObject({ waitingParts: {}, remark: expect.stringContaining("not taken") });
    }
  });

  it("stay where they are while a scan is not taken", () => {
    const waiting = atWork("identifying", { waitingParts: { tub_cavity: "P2" } });
    expect(pressAll(waiting, "POD000123", "enter").state.waitingParts).toEqual({ tub_cavity: "P2" });
  });
});

describe("the reason of a retest", () => {
  const asked = armedWith({
    number: 2,
    kind: "retest",
    retestReasons: ["seal was dirty", "guard was opened"],
  });

  it("is chosen by its number", () => {
    expect(pressAll(asked, "2", "enter").deeds).toEqual([{ do: "choose_reason", index: 1 }]);
  });

  it("leaves a number that is none to the station to refuse", () => {
    expect(pressAll(asked, "0", "enter").deeds).toEqual([{ do: "choose_reason", index: -1 }]);
  });

  it("leaves a number where none is asked to the station, which says so: the unit stays armed", () => {
    expect(pressAll(armed(), "2", "enter").deeds).toEqual([{ do: "choose_reason", index: 1 }]);
    expect(pressAll(atWork("ready"), "2", "enter").deeds).toEqual([misread("2")]);
  });

  it("may be another one until the start", () => {
    const chosen = armedWith({ number: 2, kind: "retest", retestReason: "seal was dirty" });
    expect(pressAll(chosen, "3", "enter").deeds).toEqual([{ do: "choose_reason", index: 2 }]);
  });
});

describe("start-up", () => {
  const cautions: ScreenState = atWork("signedOut", { page: "cautions" });

  it("goes on by Enter alone: a scan before the cautions have been read is told, and its Enter is no key", () => {
    const scanned = pressAll(cautions, "TUB000123", "enter");
    expect(scanned.deeds).toEqual([]);
    expect(scanned.state).toMatchObject({
      page: "cautions",
      typed: "",
      remark: expect.stringContaining("before the cautions were read"),
    });
    expect(pressAll(scanned.state, "enter").deeds).toEqual([{ do: "sign_in", name: null }]);
  });

  it("does not go on saying at the sign-in that something came too early", () => {
    const facts = { ...cautions.facts, signIn: "name" as const };
    const asked = pressAll(
      { ...cautions, facts, signIn: firstQuestion(facts) },
      "TUB000123",
      "enter",
      "enter",
    );
    expect(asked.state).toMatchObject({ page: "sign_in", remark: null });
  });

  it("asks for a name where the station wants one, and takes neither an empty one nor a unit's label", () => {
    const facts = { ...cautions.facts, signIn: "name" as const };
    const asked = pressAll({ ...cautions, facts, signIn: firstQuestion(facts) }, "enter", " ", "enter");
    expect(asked.deeds).toEqual([]);
    expect(asked.state.page).toBe("sign_in");
    const scanned = pressAll(asked.state, "TUB000123", "enter");
    expect(scanned.deeds).toEqual([]);
    expect(scanned.state.signIn.said).toContain("TUB000123 came before signing in");
    expect(pressAll(scanned.state, "Ines  Roth ", "enter").deeds).toEqual([
      { do: "sign_in", name: "Ines Roth" },
    ]);
  });

  it("does not ask again for a name given on the command line where names are believed", () => {
    const facts = { ...cautions.facts, signIn: "name" as const };
    const given = { ...cautions, facts, who: { name: "Ines", role: null, how: "stated" } as const };
    expect(pressAll(given, "enter").deeds).toEqual([{ do: "sign_in", name: "Ines" }]);
  });

  it("asks for the PIN of a name given on the command line where people prove who they are", () => {
    const given = { ...ofPeople(cautions), who: { name: "Ines", role: null, how: "stated" } as const };
    const { state, deeds } = pressAll(given, "enter");
    expect(deeds).toEqual([]);
    expect(state).toMatchObject({ page: "sign_in", signIn: { asks: "pin", name: "Ines" } });
  });

  it("can be left from the cautions", () => {
    expect(pressAll(cautions, "interrupt").deeds).toEqual([{ do: "leave" }]);
    expect(pressAll(cautions, "q", "enter").deeds).toEqual([{ do: "leave" }]);
  });
});

describe("signing in", () => {
  it("takes a badge alone", () => {
    const { state, deeds } = pressAll(asking, BADGE, "enter");
    expect(deeds).toEqual([{ do: "try_badge", badge: BADGE }]);
    expect(state.signIn.isBusy).toBe(true);
  });

  it("asks for the PIN of a name, and takes it", () => {
    const named = pressAll(asking, "Ines Roth", "enter");
    expect(named.deeds).toEqual([]);
    expect(named.state.signIn).toMatchObject({ asks: "pin", name: "Ines Roth" });
    expect(pressAll(named.state, PIN, "enter").deeds).toEqual([
      { do: "try_pin", name: "Ines Roth", pin: PIN },
    ]);
  });

  it("takes a badge also where a PIN is asked for", () => {
    expect(pressAll(askingPin, BADGE, "enter").deeds).toEqual([{ do: "try_badge", badge: BADGE }]);
  });

  it("does not count a unit's label as a wrong PIN or a name", () => {
    for (const state of [asking, askingPin]) {
      const scanned = pressAll(state, "TUB000123", "enter");
      expect(scanned.deeds).toEqual([]);
      expect(scanned.state.signIn.said).toContain("TUB000123 came before signing in");
    }
  });

  it("does not repeat what may be a PIN typed for a name, or a PIN typed wrongly", () => {
    expect(pressAll(asking, PIN, "enter").state.signIn.said).toBe(
      "That is no name. Type your name, then press Enter.",
    );
    expect(pressAll(askingPin, "48x", "enter").state.signIn.said).not.toContain("48x");
  });

  it("goes back to the name by Esc", () => {
    expect(pressAll(askingPin, "escape").state.signIn).toMatchObject({ asks: "badge_or_name", name: null });
  });

  it("says so instead of losing what is given while the last one is looked at", () => {
    const busy = { ...asking, signIn: { ...asking.signIn, isBusy: true } };
    const { state, deeds } = pressAll(busy, BADGE, "enter");
    expect(deeds).toEqual([]);
    expect(state.signIn.said).toContain("Wait a moment");
  });

  it("is possible at work, by another's badge, and at a stopped station", () => {
    for (const machine of ["ready", "armed", "needsReference", "faulted"]) {
      const state = ofPeople(atWork(machine, { who: INES }));
      expect(pressAll(state, BADGE, "enter").deeds).toEqual([{ do: "try_badge", badge: BADGE }]);
    }
    const running = pressAll(ofPeople(testing()), BADGE, "enter");
    expect(running.deeds).toEqual([]);
    expect(running.state.remark).toContain("The badge was not taken");
  });

  it("takes Enter, a badge or a name from the summary after somebody signed out, and no unit", () => {
    const after: ScreenState = { ...asking, page: "summary" };
    expect(pressAll(after, "enter").state.page).toBe("sign_in");
    expect(pressAll(after, BADGE, "enter").deeds).toEqual([{ do: "try_badge", badge: BADGE }]);
    const scanned = pressAll(after, "TUB000123", "enter");
    expect(scanned.deeds).toEqual([]);
    expect(scanned.state).toMatchObject({
      page: "sign_in",
      signIn: { said: expect.stringContaining("TUB000123") },
    });
  });
});

describe("signing out", () => {
  const atStation = (machine: string) => ofPeople(atWork(machine, { who: INES }));

  it("is by o and Enter or F4, when nothing runs", () => {
    expect(pressAll(atStation("ready"), "o", "enter").deeds).toEqual([{ do: "sign_out" }]);
    expect(pressAll(atStation("armed"), "f4").deeds).toEqual([{ do: "sign_out" }]);
    const running = pressAll({ ...ofPeople(testing()), who: INES }, "f4");
    expect(running.deeds).toEqual([]);
    expect(running.state.remark).toContain("then sign out");
  });

  it("asks who takes over at a stopped station, and goes back by Esc", () => {
    const asked = pressAll(atStation("faulted"), "f4");
    expect(asked.deeds).toEqual([]);
    expect(asked.state.page).toBe("sign_in");
    expect(pressAll(asked.state, "escape").state.page).toBe("work");
    expect(pressAll(asked.state, "tab").deeds).toEqual([{ do: "acknowledge" }]);
  });

  it("asks who is there where nobody is signed in any more", () => {
    expect(pressAll(ofPeople(atWork("signedOut")), "f4").state.page).toBe("sign_in");
  });

  it("says so where nobody signs in", () => {
    expect(pressAll(atWork("ready"), "o", "enter").state.remark).toBe("Nobody signs in at this station.");
  });
});

describe("the simulated operator's hands", () => {
  it("are told by sim, on a simulated station alone", () => {
    const facts = { ...atWork("ready").facts, handsAreSimulated: true };
    const simulated = { ...atWork("ready"), facts };
    expect(pressAll(simulated, "sim guard open", "enter").deeds).toEqual([
      { do: "simulate", words: "guard open" },
    ]);
    expect(pressAll({ ...testing(), facts }, "sim bad-day leak_gauge silent", "enter").deeds).toEqual([
      { do: "simulate", words: "bad-day leak_gauge silent" },
    ]);
    expect(pressAll(atWork("ready"), "sim guard open", "enter").deeds).toEqual([misread("sim guard open")]);
  });
});
