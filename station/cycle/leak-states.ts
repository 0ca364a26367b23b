import { leakStep } from "./unit-context.ts";
import { curveOrder, fillOrder, measureOrder, SAFE_LEVELS } from "./unit-orders.ts";
import { PHASE_SILENT, SOURCE_SILENT, VENT_NOT_COMPLETED } from "./unit-reasons.ts";
import { commandInvoke, GROSS_ESTIMATE_S, observeInvoke, unitSetup } from "./unit-setup.ts";

/** The phases of a leak step. */
export const leakStates = unitSetup.createStateConfig({
  initial: "rest",
  states: {
    /** The source before it is opened: what its pressure while filling is compared with. */
    rest: {
      entry: { type: "startPhase", params: { name: "rest" } },
      exit: "endPhase",
      invoke: [commandInvoke(() => SAFE_LEVELS), observeInvoke(() => ({ watch: "source_at_rest" }))],
      on: {
        OUTCOME: [
          { guard: "sourceReady", target: "fill", actions: "keepSourceAtRest" },
          { target: "#unit.safing", actions: "addFinding" },
        ],
      },
      after: {
        restLongest: { target: "#unit.safing", actions: { type: "addVoid", params: SOURCE_SILENT } },
      },
    },
    fill: {
      entry: { type: "startPhase", params: { name: "fill" } },
      exit: "endPhase",
      invoke: [
        commandInvoke(() => ({ source: true, isolate: true, vent: false, motor: false })),
        observeInvoke(fillOrder),
      ],
      on: {
        OUTCOME: [
          { guard: "isFilled", target: "settle", actions: "keepFill" },
          { guard: "unitCannotBeFilled", target: "gross", actions: ["keepFill", "addFinding"] },
          { target: "#unit.safing", actions: ["keepFill", "addFinding"] },
        ],
      },
      after: {
        fillLongest: { target: "#unit.safing", actions: { type: "addVoid", params: PHASE_SILENT } },
      },
    },
    gross: {
      entry: { type: "startPhase", params: { name: "gross" } },
      exit: "endPhase",
      invoke: [
        commandInvoke(() => ({ source: false, isolate: false })),
        observeInvoke((context) => curveOrder(context, GROSS_ESTIMATE_S)),
      ],
      on: { OUTCOME: { target: "vent", actions: { type: "keepCurve", params: { as: "gross" } } } },
      after: {
        grossLongest: { target: "#unit.safing", actions: { type: "addVoid", params: PHASE_SILENT } },
      },
    },
    settle: {
      entry: { type: "startPhase", params: { name: "settle" } },
      exit: "endPhase",
      invoke: [
        commandInvoke(() => ({ source: false, isolate: false })),
        observeInvoke((context) => curveOrder(context, leakStep(context).settle_s)),
      ],
      on: {
        OUTCOME: { target: "measure", actions: { type: "keepCurve", params: { as: "settle" } } },
      },
      after: {
        settle: { target: "#unit.safing", actions: { type: "addVoid", params: PHASE_SILENT } },
      },
    },
    measure: {
      entry: { type: "startPhase", params: { name: "measure" } },
      exit: "endPhase",
      invoke: observeInvoke(measureOrder),
      on: { OUTCOME: { target: "vent", actions: { type: "keepCurve", params: { as: "measure" } } } },
      after: {
        measureLongest: {
          target: "#unit.safing",
          actions: { type: "addVoid", params: PHASE_SILENT },
        },
      },
    },
    vent: {
      entry: [{ type: "startPhase", params: { name: "vent" } }, "startVent"],
      exit: "endPhase",
      invoke: [
        commandInvoke(() => SAFE_LEVELS),
        observeInvoke((context) => ({
          watch: "vented",
          within_Pa: leakStep(context).ventedWithin_Pa,
        })),
      ],
      on: {
        OUTCOME: [
          {
            guard: "hoseWasVented",
            target: "#unit.safing",
            actions: ["keepVent", "addVentFinding"],
          },
          { guard: "stopsHere", target: "#unit.recording", actions: "keepVent" },
          { target: "#unit.testing.next", actions: ["keepVent", "nextStep"] },
        ],
      },
      after: {
        ventLongest: {
          target: "#unit.safing",
          actions: { type: "addVoid", params: VENT_NOT_COMPLETED },
        },
      },
    },
  },
});
