import { describe, expect, it } from "vitest";
import type { Key } from "../../station/screen/keys.ts";
import { press } from "../../station/screen/press.ts";
import type { ScreenState } from "../../station/screen/screen-state.ts";
import { armed, atWork, observed, testing } from "./example-state.ts";

function pressAll(state: ScreenState, ...keys: readonly (string | Key["kind"])[]) {
  const deeds: unknown[] = [];
  let now = state;
  for (const it of keys) {
    const pressed = press(now, keyOf(it));
    now = pressed.state;
    if (pressed.deed.do !== "nothing") deeds.push(pressed.deed);
  }
  return { state: now, deeds };
}

function keyOf(it: string): Key {
  switch (it) {
    case "enter":
    case "escape":
    case "tab":
    case "backspace":
    case "interrupt":
      return { kind: it };
    default:
      return { kind: "text", text: it };
  }
}

const scanOf = (serial: string, parts = {}) => ({ do: "scan", scan: { serial, parts } });
const withNext = { observed: observed({ next: { serial: "POD531811", isReference: false } }) };

describe("what a key does", () => {
  it.each<[string, ScreenState, string[], unknown[]]>([
    ["a typed serial and Enter scan it", atWork("ready"), ["POD", "000123", "enter"], [scanOf("POD000123")]],
    [
      "tracked parts are scanned with the serial",
      atWork("ready"),
      ["POD000123 tub_cavity=T2", "enter"],
      [scanOf("POD000123", { tub_cavity: "T2" })],
    ],
    [
      "Backspace takes back one character",
      atWork("ready"),
      ["POD4", "backspace", "5", "enter"],
      [scanOf("POD5")],
    ],
    ["Esc clears the line", atWork("ready"), ["POD4", "escape", "enter"], []],
    ["Enter on an empty line does nothing on a real station", atWork("ready"), ["enter"], []],
    ["Enter takes the next simulated unit", atWork("ready", withNext), ["enter"], [{ do: "put_on_next" }]],
    [
      "Enter on a typed serial does not take the next one",
      atWork("ready", withNext),
      ["X1", "enter"],
      [scanOf("X1")],
    ],
    ["Enter starts an armed unit", armed(), ["enter"], [{ do: "start" }]],
    ["a scan on an armed unit changes the mind", armed(), ["TUB1", "enter"], [scanOf("TUB1")]],
    ["Esc does not start or abort an armed unit", armed(), ["escape"], []],
    ["Esc aborts a running test", testing(), ["escape"], [{ do: "abort" }]],
    ["Esc aborts also with half a serial typed", testing(), ["TU", "escape"], [{ do: "abort" }]],
    ["Esc aborts a test about to start", atWork("checking"), ["escape"], [{ do: "abort" }]],
    ["Enter does nothing during a test", { ...testing(), ...withNext }, ["enter", "enter"], []],
    ["Tab acknowledges a fault", atWork("faulted"), ["tab"], [{ do: "acknowledge" }]],
    ["Enter does not acknowledge a fault", atWork("faulted", withNext), ["enter", "escape"], []],
    ["Tab does nothing without a fault", atWork("ready"), ["tab"], []],
    ["Tab does nothing during a test", testing(), ["tab"], []],
    ["nothing is scanned while a serial is looked up", atWork("identifying"), ["X1", "enter"], []],
    ["q and Enter leave", atWork("ready"), ["q", "enter"], [{ do: "leave" }]],
    ["a serial that begins with q is a serial", atWork("ready"), ["q1", "enter"], [scanOf("q1")]],
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

  it("shows what is typed and forgets it once scanned", () => {
    expect(pressAll(atWork("ready"), "PO", "D1").state.typed).toBe("POD1");
    expect(pressAll(atWork("ready"), "PO", "D1", "enter").state.typed).toBe("");
  });

  it("says that a scan came too soon instead of losing it in silence", () => {
    expect(pressAll(atWork("identifying"), "POD2", "enter").state.remark).toBe(
      "POD2 came too soon. Scan it again.",
    );
  });
});

describe("start-up", () => {
  const cautions: ScreenState = atWork("signedOut", { page: "cautions" });

  it("takes no scan before the cautions have been read", () => {
    expect(pressAll(cautions, "POD1", "enter").deeds).toEqual([{ do: "sign_in", inspector: null }]);
    expect(pressAll(cautions, "POD1").state.page).toBe("cautions");
  });

  it("asks for a name where the station wants one, and takes no empty one", () => {
    const asking = { ...cautions, facts: { ...cautions.facts, asksName: true } };
    const asked = pressAll(asking, "enter", " ", "enter");
    expect(asked.deeds).toEqual([]);
    expect(asked.state.page).toBe("sign_in");
    const named = pressAll(asked.state, "Ines  Roth ", "enter");
    expect(named.deeds).toEqual([{ do: "sign_in", inspector: "Ines Roth" }]);
    expect(named.state).toMatchObject({ page: "work", inspector: "Ines Roth", typed: "" });
  });

  it("does not ask again for a name given on the command line", () => {
    const asking = { ...cautions, inspector: "Ines", facts: { ...cautions.facts, asksName: true } };
    expect(pressAll(asking, "enter")).toMatchObject({
      deeds: [{ do: "sign_in", inspector: "Ines" }],
      state: { page: "work" },
    });
  });

  it("can be left from the cautions", () => {
    expect(pressAll(cautions, "interrupt").deeds).toEqual([{ do: "leave" }]);
  });
});
