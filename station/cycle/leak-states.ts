import { leakStep } from "./unit-context.ts";
import {
  compareOrder,
  curveOrder,
  fillOrder,
  measureOrder,
  SAFE_LEVELS,
  VENT_TRIAL_s,
  valveTrialOrder,
} from "./unit-orders.ts";
import { PHASE_SILENT, PRESSURES_SILENT, SOURCE_SILENT, VENT_NOT_COMPLETED } from "./unit-reasons.ts";
import { commandInvoke, GROSS_ESTIMATE_S, observeInvoke, unitSetup } from "./unit-setup.ts";

/** The phases of a leak step. */
export const leakStates = unitSetup.createStateConfig({
  initial: "rest",
  states: {
    /** The source before the fill, and whether each of the two valves before the body shuts. */
    rest: {
      entry: { type: "startPhase", params: { name: "rest" } },
      exit: "endPhase",
      initial: "sourceShut",
      states: {
        sourceShut: {
          invoke: [
            commandInvoke(() => ({ source: false, isolate: true, vent: false, motor: false })),
            observeInvoke(valveTrialOrder),
          ],
          on: {
            OUTCOME: [
              { guard: "sourceReady", target: "isolateShut", actions: "keepSourceShut" },
              { target: "#unit.safing", actions: "addFinding" },
            ],
          },
        },
        isolateShut: {
          invoke: [
            commandInvoke(() => ({ source: true, isolate: false, vent: false })),
            observeInvoke(valveTrialOrder),
          ],
          on: {
            OUTCOME: [
              { guard: "valvesShut", target: "#unit.testing.leak.fill", actions: "keepSourceAtRest" },
              { target: "#unit.safing", actions: "addValveFinding" },
            ],
          },
        },
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
      on: {
        OUTCOME: [
          {
            guard: "wasCutOff",
            target: "#unit.safing",
            actions: [{ type: "keepCurve", params: { as: "gross" } }, "addHeldFinding"],
          },
          { target: "trial", actions: { type: "keepCurve", params: { as: "gross" } } },
        ],
      },
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
      on: {
        OUTCOME: [
          {
            guard: "bodyIsEmpty",
            target: "trial",
            actions: { type: "keepCurve", params: { as: "measure" } },
          },
          {
            guard: "provesStation",
            target: "compare",
            actions: { type: "keepCurve", params: { as: "measure" } },
          },
          { target: "vent", actions: { type: "keepCurve", params: { as: "measure" } } },
        ],
      },
      after: {
        measureLongest: {
          target: "#unit.safing",
          actions: { type: "addVoid", params: PHASE_SILENT },
        },
      },
    },
    /** After a body has lost its pressure, or never took it: whether the vent stands open. */
    trial: {
      entry: { type: "startPhase", params: { name: "trial" } },
      exit: "endPhase",
      initial: "ventShut",
      states: {
        ventShut: {
          invoke: [
            commandInvoke(() => ({ source: true, isolate: true, vent: false })),
            observeInvoke(() => ({ watch: "pressure", after_s: VENT_TRIAL_s })),
          ],
          on: { OUTCOME: { target: "ventOpen", actions: "keepVentShut" } },
        },
        ventOpen: {
          invoke: [
            commandInvoke(() => ({ vent: true })),
            observeInvoke(() => ({ watch: "pressure", after_s: VENT_TRIAL_s })),
          ],
          on: {
            OUTCOME: [
              { guard: "ventStandsOpen", target: "#unit.safing", actions: "addVentStuck" },
              { target: "#unit.testing.leak.vent" },
            ],
          },
        },
      },
      after: {
        trialLongest: { target: "#unit.safing", actions: { type: "addVoid", params: PHASE_SILENT } },
      },
    },
    /** A piece that proves the station proves that its two pressure gauges agree, too. */
    compare: {
      entry: { type: "startPhase", params: { name: "compare" } },
      exit: "endPhase",
      invoke: [
        commandInvoke(() => ({ source: true, isolate: true, vent: false })),
        observeInvoke(compareOrder),
      ],
      on: {
        OUTCOME: [
          { guard: "gaugesDisagree", target: "#unit.safing", actions: "addComparison" },
          { target: "vent" },
        ],
      },
      after: {
        compareLongest: { target: "#unit.safing", actions: { type: "addVoid", params: PRESSURES_SILENT } },
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
