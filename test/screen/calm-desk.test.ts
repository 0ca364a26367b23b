import { describe, expect, it } from "vitest";
import { CalmDesk, looksAlike } from "../../station/screen/calm-desk.ts";
import type { Key } from "../../station/screen/keys.ts";
import { afterLook, type Observed, type ScreenState } from "../../station/screen/screen-state.ts";
import { armed, observed, testing, tub } from "./example-state.ts";

const [leak = null] = tub.steps;

function measuring(more: Partial<Observed> = {}, elapsed_s = 1): ScreenState {
  const progress = { phase: "measure", step: leak, point: null, elapsed_s } as const;
  return afterLook(TESTING, observed({ machine: "testing", progress, ...more }));
}
const TESTING = testing();

function rig(start: ScreenState) {
  let changed = () => {};
  const desk = {
    state: start,
    isEscUrgent: false,
    watch(hears: () => void) {
      changed = hears;
      return () => {};
    },
    key(_key: Key) {},
  };
  let painted = 0;
  const calm = new CalmDesk(desk, { paintLive: () => painted++ });
  let told = 0;
  const stop = calm.watch(() => told++);
  const show = (state: ScreenState) => {
    desk.state = state;
    changed();
  };
  return { calm, show, stop, told: () => told, painted: () => painted };
}

describe("two states of the screen", () => {
  it("look alike where only readings, curve and seconds differ: those are painted apart", () => {
    const trace = { channel: "leak_pressure", phaseStart_s: 0, samples: [{ t_s: 1, value: -8000 }] } as const;
    const later = measuring({ readings: { leak_pressure: -7990 }, trace, timeLeft_s: 12 }, 1.1);
    expect(looksAlike(measuring(), later)).toBe(true);
  });

  it.each([
    ["another phase", { progress: { phase: "vent", step: leak, point: null, elapsed_s: 1 } as const }],
    ["a new minute", { now_ms: observed().now_ms + 60_000 }],
    ["another count", { counts: { ...observed().counts, tested: 1 } }],
    [
      "the reference check",
      { reference: { kind: "due", pieces: [], step: 1, of: 1, warnings: [] } as const },
    ],
    ["another machine state", { machine: "faulted" }],
    ["a line of a gauge", { conversations: [{ instrument: "leak_gauge", isFaulty: false, lines: [] }] }],
    ["the next simulated unit", { next: { serial: "TUB531813", isReference: false } }],
  ] as const)("differ by %s", (_, more) => {
    expect(looksAlike(measuring(), measuring(more))).toBe(false);
  });

  it("differ by what is typed, said or shown", () => {
    expect(looksAlike(measuring(), { ...measuring(), typed: "T" })).toBe(false);
    expect(looksAlike(measuring(), { ...measuring(), remark: "Wait." })).toBe(false);
    expect(looksAlike(armed(), { ...armed(), unit: null })).toBe(false);
  });

  it("differ by the second while somebody waits until a lock ends", () => {
    const locked = (now_ms: number) => {
      const state = measuring({ now_ms });
      return { ...state, signIn: { ...LOCKED, lockedUntil_ms: observed().now_ms + 30_000 } };
    };
    const LOCKED = TESTING.signIn;
    const a = locked(observed().now_ms);
    expect(looksAlike(a, { ...locked(observed().now_ms + 1000), signIn: a.signIn })).toBe(false);
  });
});

describe("a calm desk", () => {
  it("tells of a change at once, and paints what moves", () => {
    const { calm, show, told, painted } = rig(measuring());
    show({ ...measuring(), typed: "T" });
    expect(told()).toBe(1);
    expect(painted()).toBe(1);
    expect(calm.state.typed).toBe("T");
  });

  it("paints, and lays nothing out, where only readings have changed", () => {
    const { show, told, painted } = rig(measuring());
    show(measuring({ readings: { leak_pressure: -7990 } }));
    expect(told()).toBe(0);
    expect(painted()).toBe(1);
  });

  it("shows the last of many changes, in few frames", async () => {
    const { calm, show, told } = rig(measuring());
    for (let k = 1; k <= 500; k++) show({ ...measuring(), typed: "T".repeat(k) });
    await expect.poll(() => calm.state.typed.length).toBe(500);
    expect(told()).toBeLessThanOrEqual(5);
  });

  it("shows what changed while nobody watched", async () => {
    const { calm, show, stop } = rig(measuring());
    stop();
    show({ ...measuring(), typed: "TUB" });
    calm.watch(() => {});
    await expect.poll(() => calm.state.typed).toBe("TUB");
  });
});
